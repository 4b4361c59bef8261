package event

import (
	"context"
	"encoding/json"
	"time"
)

// Record is one line of the event log.
type Record struct {
	Seq     int64     // its place; given by the log
	To      string    // the consumer that it is for; empty for every consumer of events
	Expires time.Time // it need not be delivered after this; zero: never
	Body    json.RawMessage

	expired bool // it goes with the next change
}

// Entry is what the store's journal keeps of a change for ever.
type Entry struct {
	Kind   string // "event", "feed" or "curve"
	Vessel string
	At     time.Time
	Body   any
	Stored func(id int64) // called once it is on the disk; may be nil
}

// Change is written all or not at all.
type Change struct {
	Records []Record         // appended to the log
	Journal []Entry          // belong to the records
	State   map[string]any   // states of consumers, by name
	Moves   map[string]int64 // consumers that are done with all up to a place
}

// Saved is a change as it goes to the disk.
type Saved struct {
	Number  int64 // counts changes, so that none is written twice
	Records []Record
	Journal []Entry
	State   map[string]json.RawMessage
	Moves   map[string]int64
	Done    []int64  // places of records that every consumer is done with
	Gone    []string // consumers that are no more
}

// Contents is what a disk holds of the log.
type Contents struct {
	Number  int64 // of the last change
	Seq     int64 // of the last record
	Records []Record
	Cursors map[string]int64
}

// Disk keeps the log. Save writes a change and flushes it; a change whose
// number it has seen is left alone.
type Disk interface {
	LoadLog(ctx context.Context) (Contents, error)
	SaveLog(ctx context.Context, change Saved) error
}

func (s Saved) empty() bool {
	return len(s.Records)+len(s.Journal)+len(s.State)+len(s.Moves)+len(s.Done)+len(s.Gone) == 0
}
