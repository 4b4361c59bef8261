package dbfile

import (
	"fmt"
	"strings"
)

// Report says what a start found.
type Report struct {
	Path     string
	Damage   string         // what is wrong with the file; empty if nothing is
	SetAside string         // where the damaged file now is
	Saved    map[string]int // rows carried over, by table
	Lost     map[string]int // rows that could not be read, by table
	Repaired bool           // the first page was put right, and nothing is lost
	Aside    []BadRow       // rows of a sound file that could not be read
	Filled   Fill           // what came back from the last backup

	schema *Schema
}

// BadRow is a row that cannot be read, although the file is sound: a bit of it
// has changed.
type BadRow struct {
	Table string
	ID    int64
	Why   error
}

func (b BadRow) String() string { return fmt.Sprintf("%s %d: %v", b.Table, b.ID, b.Why) }

// unknown says in Report.Lost that nothing tells how many rows there were.
const unknown = -1

// OK reports whether the file was sound.
func (r Report) OK() bool { return r.Damage == "" }

// String tells a baker what happened.
func (r Report) String() string {
	var all []string
	add := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if len(r.Aside) > 0 {
		add("%d rows of the store could not be read and are kept aside in it, the first being %s", len(r.Aside), r.Aside[0])
	}
	switch {
	case r.OK() && len(r.Aside) == 0:
		return "the store is sound"
	case r.OK() && r.Filled.Backup != "":
		add("what the backup %s has of them is back", r.Filled.Backup)
	case r.OK():
	case r.Repaired:
		add("the first page of the store %s was damaged (%s) and was put right from its copy; nothing is lost; the damaged file is kept as %s", r.Path, r.Damage, r.SetAside)
	default:
		add("the store %s was damaged (%s); it is kept as %s, and what could be read of it was carried over", r.Path, r.Damage, r.SetAside)
		all = append(all, r.losses()...)
		if r.Filled.Backup != "" {
			add("the backup is %s", r.Filled.Backup)
		}
	}
	return strings.Join(all, "; ")
}

// losses says of each table how many rows were saved and lost.
func (r Report) losses() (all []string) {
	for _, t := range r.schema.Tables {
		if t.Says == "" || r.Saved[t.Name] == 0 && r.Lost[t.Name] == 0 {
			continue
		}
		lost := fmt.Sprint(r.Lost[t.Name])
		if r.Lost[t.Name] == unknown {
			lost = "an unknown number"
		}
		one := fmt.Sprintf("%s: %d saved, %s lost", t.Says, r.Saved[t.Name], lost)
		if n := r.Filled.Rows[t.Name]; n > 0 {
			one += fmt.Sprintf(", %d of them back from the backup", n)
		}
		all = append(all, one)
	}
	return all
}
