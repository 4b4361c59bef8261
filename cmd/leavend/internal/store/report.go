package store

import (
	"fmt"
	"strings"
)

// Report says what Open found.
type Report struct {
	Path     string
	Damage   string         // what is wrong with the file; empty if nothing is
	SetAside string         // where the damaged file now is
	Saved    map[string]int // rows carried over, by table
	Lost     map[string]int // rows that could not be read, by table
	Repaired bool           // the first page was put right, and nothing is lost
	Aside    []BadRow       // rows of a sound file that could not be read
	Filled   Fill           // what came back from the last backup
}

// unknown says in Report.Lost that nothing tells how many rows there were.
const unknown = -1

// OK reports whether the file was sound.
func (r Report) OK() bool { return r.Damage == "" }

// String tells a baker what happened.
func (r Report) String() string {
	if r.OK() && len(r.Aside) == 0 {
		return "the store is sound"
	}
	var b strings.Builder
	if len(r.Aside) > 0 {
		fmt.Fprintf(&b, "%d rows of the store could not be read and are kept aside in it, the first being %s", len(r.Aside), r.Aside[0])
		if r.OK() && r.Filled.Backup != "" {
			fmt.Fprintf(&b, "; what the backup %s has of them is back", r.Filled.Backup)
		}
	}
	if r.OK() {
		return b.String()
	}
	if b.Len() > 0 {
		b.WriteString("; ")
	}
	if r.Repaired {
		fmt.Fprintf(&b, "the first page of the store %s was damaged (%s) and was put right from its copy; nothing is lost; the damaged file is kept as %s", r.Path, r.Damage, r.SetAside)
		return b.String()
	}
	fmt.Fprintf(&b, "the store %s was damaged (%s); it is kept as %s, and what could be read of it was carried over", r.Path, r.Damage, r.SetAside)
	for _, t := range tables {
		lost := fmt.Sprint(r.Lost[t.name])
		if r.Lost[t.name] == unknown {
			lost = "an unknown number"
		}
		if t.say != "" && (r.Saved[t.name] > 0 || r.Lost[t.name] != 0) {
			fmt.Fprintf(&b, "; %s: %d saved, %s lost", t.say, r.Saved[t.name], lost)
			if n := r.Filled.Rows[t.name]; n > 0 {
				fmt.Fprintf(&b, ", %d of them back from the backup", n)
			}
		}
	}
	if r.Filled.Backup != "" {
		fmt.Fprintf(&b, "; the backup is %s", r.Filled.Backup)
	}
	return b.String()
}

// tables are those whose rows are carried over from a damaged file, the
// dearest first.
var tables = []struct{ name, say string }{
	{"clock", ""}, {"vessel", "vessels"}, {"channel", ""}, {"entry", "journal entries"}, {"revision", ""},
	{"kept", "settings"}, {"kept_before", ""}, {"outbox", "messages"}, {"log", "messages"}, {"log_cursor", ""}, {"log_head", ""}, {"photo", "photos"}, {"photo_before", ""}, {"clock_step", ""}, {"aside", ""},
	{"rollup", "rollup pages"}, {"block", "minutes of readings"},
}
