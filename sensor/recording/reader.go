package recording

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"
)

// Reader reads a recording row by row, without allocating per row. It is used
// from one goroutine.
type Reader struct {
	scan  *scanner
	width int // cells that a row has
	cols  columns
	marks marks  // of a file without commas between its cells
	cell  []byte // a number with another mark
	notes map[string]string
	zones map[int]*time.Location
	last  time.Time
}

// columns holds where each known column stands; -1 means that it is missing.
type columns struct{ time, distance, temp, note, mat int }

// NewReader reads the header. It returns an error that says what is missing
// when the file is no recording.
func NewReader(r io.Reader) (*Reader, error) {
	scan := newScanner(r)
	scan.begin()
	header, _, err := scan.row()
	switch {
	case err == io.EOF:
		return nil, errors.New("no recording: the file is empty")
	case errors.Is(err, errTooLong) || errors.Is(err, errQuote):
		return nil, fmt.Errorf("no recording: the first line %w", err)
	case err != nil:
		return nil, fmt.Errorf("read header: %w", err)
	}
	cols, err := findColumns(header)
	if err != nil {
		return nil, err
	}
	out := &Reader{
		scan: scan, width: len(header), cols: cols,
		notes: map[string]string{}, zones: map[int]*time.Location{},
	}
	if scan.sep != ',' {
		out.look()
	}
	return out, nil
}

// findColumns looks the known columns up by name.
func findColumns(header [][]byte) (columns, error) {
	c := columns{-1, -1, -1, -1, -1}
	known := map[string]*int{
		"time": &c.time, "distance_mm": &c.distance, "temperature_c": &c.temp, "note": &c.note, "mat": &c.mat,
	}
	for i, cell := range header {
		at := known[strings.TrimSpace(string(cell))]
		if at == nil {
			continue
		}
		if *at >= 0 {
			return c, fmt.Errorf("no recording: the header names %q twice", cell)
		}
		*at = i
	}
	for _, name := range []string{"time", "distance_mm", "temperature_c"} {
		if *known[name] < 0 {
			return c, fmt.Errorf("no recording: the header has no column %q%s", name, headerHint(header))
		}
	}
	return c, nil
}

// headerHint guesses why a header was not understood.
func headerHint(header [][]byte) string {
	first := header[0]
	switch {
	case bytes.HasPrefix(first, []byte{0xFF, 0xFE}), bytes.HasPrefix(first, []byte{0xFE, 0xFF}):
		return "; the file is UTF-16, save it as UTF-8"
	}
	return "; it must start with time,distance_mm,temperature_c,note"
}

// Next returns the next row. A bad row gives a *RowError, and the following
// call goes on behind it. At the end of the file the error is io.EOF; any
// other error is final as well.
func (r *Reader) Next() (Row, error) {
	cells, line, err := r.scan.row()
	switch {
	case err == errTooLong || err == errQuote:
		return Row{}, &RowError{Line: line, Reason: "the row " + err.Error()}
	case err != nil:
		return Row{}, err
	case len(cells) != r.width:
		return Row{}, r.misfit(cells, line)
	}
	row, bad := r.parse(cells, line)
	if bad != nil {
		return Row{}, bad
	}
	row.OutOfOrder = row.At.Before(r.last)
	r.last = row.At
	return row, nil
}

// misfit explains a row with the wrong number of cells. Zero bytes are what a
// file system leaves of a row that power was lost on.
func (r *Reader) misfit(cells [][]byte, line int) *RowError {
	if bytes.IndexByte(cells[0], 0) >= 0 {
		return &RowError{Line: line, Reason: "the row holds zero bytes, as after a loss of power"}
	}
	reason := fmt.Sprintf("the row has %d cells, the header has %d", len(cells), r.width)
	if r.scan.sep == ',' && len(cells) > r.width {
		reason += "; if it has decimal commas, write the file with semicolons between the cells, or with decimal points"
	}
	return &RowError{Line: line, Reason: reason}
}

// parse turns the cells of a row into values. The error is typed so that a
// good row costs no interface.
func (r *Reader) parse(cells [][]byte, line int) (row Row, bad *RowError) {
	row.Line = line
	var ok bool
	if row.At, ok = parseTime(cells[r.cols.time], r.zone); !ok {
		return row, rowError(line, "time", cells[r.cols.time], "is no RFC 3339 time such as 2027-01-02T07:25:49Z")
	}
	var why string
	if row.DistanceMM, why = r.optional(cells[r.cols.distance]); why != "" {
		return row, rowError(line, "distance_mm", cells[r.cols.distance], why)
	}
	if row.TempC, why = r.optional(cells[r.cols.temp]); why != "" {
		return row, rowError(line, "temperature_c", cells[r.cols.temp], why)
	}
	if r.cols.mat >= 0 {
		if row.Mat, ok = parseSwitch(cells[r.cols.mat]); !ok {
			return row, rowError(line, "mat", cells[r.cols.mat], "is neither on nor off")
		}
	}
	if r.cols.note >= 0 && len(cells[r.cols.note]) > 0 {
		if row.Note, ok = r.note(cells[r.cols.note]); !ok {
			return row, rowError(line, "note", cells[r.cols.note], "is not UTF-8")
		}
		if r.shifted(cells) {
			return row, rowError(line, "note", cells[r.cols.note], "is a bare number, as where decimal commas cut the numbers before it in two; write the file with semicolons between the cells, or with decimal points")
		}
	}
	return row, nil
}

const notNumber = "is no decimal number"

// optional reads a number; an empty cell gives NaN. why says what is wrong
// with it; "" is nothing.
func (r *Reader) optional(cell []byte) (v float64, why string) {
	if len(cell) == 0 {
		return math.NaN(), ""
	}
	if r.scan.sep != ',' {
		return r.decimal(cell)
	}
	v, ok := parseNumber(cell)
	if !ok {
		return v, notNumber
	}
	return v, ""
}

// shifted reports whether a row between commas looks like one with decimal
// commas that has as many cells as the header all the same: "139,5,26" is 139,
// 5 and the note "26".
func (r *Reader) shifted(cells [][]byte) bool {
	temp := bytes.TrimLeft(cells[r.cols.temp], "+-")
	return r.scan.sep == ',' && allDigits(cells[r.cols.note]) && len(temp) > 0 && allDigits(temp) &&
		allDigits(cells[r.cols.distance])
}

// parseSwitch reads a cell of the mat column.
func parseSwitch(cell []byte) (Switch, bool) {
	switch string(cell) {
	case "":
		return Unknown, true
	case "off", "0", "false":
		return Off, true
	case "on", "1", "true":
		return On, true
	}
	return Unknown, false
}

// note returns the cell as a string. A recording repeats few notes, so the
// first hundred are kept and cost no further allocation.
func (r *Reader) note(cell []byte) (string, bool) {
	if s, ok := r.notes[string(cell)]; ok {
		return s, true
	}
	if !utf8.Valid(cell) {
		return "", false
	}
	s := string(cell)
	if len(r.notes) < 100 {
		r.notes[s] = s
	}
	return s, true
}

// zone returns the location of a UTC offset, made once for each: a recording
// that crosses the change to summer time has two.
func (r *Reader) zone(offset int) *time.Location {
	if offset == 0 {
		return time.UTC
	}
	if r.zones[offset] == nil {
		r.zones[offset] = time.FixedZone("", offset)
	}
	return r.zones[offset]
}
