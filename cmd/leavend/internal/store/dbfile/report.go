package dbfile

import (
	"fmt"

	"leavend/cmd/leavend/internal/text"
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

// String says what happened, for the log.
func (r Report) String() string {
	said := r.Explain().In(text.Reader{})
	if r.Damage != "" {
		said += " (" + r.Damage + ")"
	}
	return said
}

// Explain tells a baker what happened.
func (r Report) Explain() text.Message {
	aside := text.Name("aside", r.SetAside)
	switch {
	case r.OK() && len(r.Aside) == 0:
		return text.Say("alarm.history.sound")
	case r.OK() && r.Filled.Backup != "":
		return text.Say("alarm.storage.rows_back", text.Count("n", len(r.Aside)))
	case r.OK():
		return text.Say("alarm.storage.rows", text.Count("n", len(r.Aside)))
	case r.Repaired:
		return text.Say("alarm.history.repaired", aside)
	}
	return text.Say("alarm.history.saved", aside, text.List("all", r.losses()))
}

// losses says of each table how many rows were saved and lost.
func (r Report) losses() (all []text.Message) {
	for _, t := range r.schema.Tables {
		saved, lost, back := r.Saved[t.Name], r.Lost[t.Name], r.Filled.Rows[t.Name]
		if t.Says == "" || saved == 0 && lost == 0 {
			continue
		}
		key := "alarm.history.rows"
		if lost == unknown {
			key = "alarm.history.rows_unknown"
		}
		all = append(all, text.Say(key, text.Sub("what", text.Say("alarm.history.of."+t.Says)), text.Number("saved", float64(saved)), text.Number("lost", float64(lost)), text.Number("back", float64(back))))
	}
	return all
}
