// Package recording reads and writes the file a night at the jar leaves
// behind: CSV after RFC 4180, UTF-8, one row a moment, the header
//
//	time,distance_mm,temperature_c,note
//
// The time is RFC 3339. An empty cell is a reading that did not come. The
// note is "fed" where the baker said so, and "new starter" where the jar held
// another from then on. Further columns may follow; "mat"
// (on, off or empty) is understood, all others are ignored. Columns are found
// by name, so their order does not matter.
//
// What a spreadsheet makes of such a file is read too: a byte order mark,
// semicolons or tabs between the cells, and then a comma in front of the
// decimals, where it is beyond doubt that it is one. A number in doubt is refused
// with a *RowError.
//
// A file that holds readings is worth more than one bad row in it: the reader
// reports such a row as a *RowError that names the line and the column, and
// goes on with the next. Rows whose time runs backwards are handed out and
// marked, for only the caller knows whether the clock was set or the file was
// glued together.
package recording

import (
	"fmt"
	"math"
	"time"
)

// Fed is the note on the row at which the baker fed the starter.
const Fed = "fed"

// NewStarter is the note on the row from which on the jar held another starter.
const NewStarter = "new starter"

// Switch says what the mat was told when a row was written.
type Switch uint8

// The states of the mat in a row. Unknown stands for a recording without a
// mat column and for an empty cell.
const (
	Unknown Switch = iota
	Off
	On
)

// String returns the word that stands in the mat column.
func (s Switch) String() string {
	switch s {
	case Off:
		return "off"
	case On:
		return "on"
	}
	return ""
}

// Row is one moment of a recording.
type Row struct {
	At         time.Time // with the offset that the file gives
	DistanceMM float64   // from the sensor to the surface; NaN where no reading came
	TempC      float64   // of the vessel; NaN where no reading came
	Mat        Switch
	Note       string
	Line       int  // where the row starts in the file, counted from 1
	OutOfOrder bool // its time lies before that of the row above it
}

// Empty returns a row of the given time that holds no reading.
func Empty(at time.Time) Row {
	return Row{At: at, DistanceMM: math.NaN(), TempC: math.NaN()}
}

// RowError says what is wrong with one row. The reader has skipped the row
// and goes on with the next call of Next.
type RowError struct {
	Line   int    // where the row starts, counted from 1
	Column string // the column's name; empty when the row as a whole is broken
	Cell   string // what stands there, shortened
	Reason string // what is wrong with it
}

// Error names the line, the column, the cell and the reason, in that order.
func (e *RowError) Error() string {
	if e.Column == "" {
		return fmt.Sprintf("line %d: %s", e.Line, e.Reason)
	}
	return fmt.Sprintf("line %d: %s: %q %s", e.Line, e.Column, e.Cell, e.Reason)
}

// rowError makes a RowError with the cell cut to a length a terminal bears.
func rowError(line int, column string, cell string, reason string) *RowError {
	const most = 40
	text := cell[:min(len(cell), most)]
	if len(cell) > most {
		text += "..."
	}
	return &RowError{Line: line, Column: column, Cell: text, Reason: reason}
}
