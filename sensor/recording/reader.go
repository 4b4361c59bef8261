package recording

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Reader reads a recording row by row. It is used from one goroutine.
type Reader struct {
	scan  *scanner
	width int // cells that a row has
	cols  columns
	marks marks // of a file without commas between its cells
	zones map[int]*time.Location
	last  time.Time
}

// columns holds where each known column stands; -1 means that it is missing.
type columns struct{ time, distance, temp, note, mat int }

// NewReader reads the header. It returns an error that says what is missing
// when the file is no recording.
func NewReader(r io.Reader) (*Reader, error) {
	scan := newScanner(r)
	header, err := scan.row()
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
	out := &Reader{scan: scan, width: len(header), cols: cols, zones: map[int]*time.Location{}}
	if scan.sep != separators[0] {
		out.look()
	}
	return out, nil
}

// findColumns looks the known columns up by name.
func findColumns(header []string) (columns, error) {
	c := columns{-1, -1, -1, -1, -1}
	known := map[string]*int{
		"time": &c.time, "distance_mm": &c.distance, "temperature_c": &c.temp, "note": &c.note, "mat": &c.mat,
	}
	for i, cell := range header {
		at := known[strings.TrimSpace(cell)]
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
func headerHint(header []string) string {
	if strings.HasPrefix(header[0], "\xFF\xFE") || strings.HasPrefix(header[0], "\xFE\xFF") {
		return "; the file is UTF-16, save it as UTF-8"
	}
	return "; it must start with time,distance_mm,temperature_c,note"
}

// Next returns the next row. A bad row gives a *RowError, and the following
// call goes on behind it. At the end of the file the error is io.EOF; any
// other error is final as well.
func (r *Reader) Next() (Row, error) {
	cells, err := r.scan.row()
	line := r.scan.line
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
func (r *Reader) misfit(cells []string, line int) *RowError {
	if strings.IndexByte(cells[0], 0) >= 0 {
		return &RowError{Line: line, Reason: "the row holds zero bytes, as after a loss of power"}
	}
	reason := fmt.Sprintf("the row has %d cells, the header has %d", len(cells), r.width)
	if r.scan.sep == separators[0] && len(cells) > r.width {
		reason += "; if it has decimal commas, write the file with semicolons between the cells, or with decimal points"
	}
	return &RowError{Line: line, Reason: reason}
}

// parse turns the cells of a row into values.
func (r *Reader) parse(cells []string, line int) (row Row, bad *RowError) {
	row.Line = line
	var ok bool
	if row.At, ok = r.parseTime(cells[r.cols.time]); !ok {
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
		if row.Note = cells[r.cols.note]; !utf8.ValidString(row.Note) {
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
func (r *Reader) optional(cell string) (v float64, why string) {
	if len(cell) == 0 {
		return math.NaN(), ""
	}
	if r.scan.sep != separators[0] {
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
func (r *Reader) shifted(cells []string) bool {
	temp := strings.TrimLeft(cells[r.cols.temp], "+-")
	return r.scan.sep == separators[0] && allDigits(cells[r.cols.note]) && len(temp) > 0 && allDigits(temp) &&
		allDigits(cells[r.cols.distance])
}

// parseSwitch reads a cell of the mat column.
func parseSwitch(cell string) (Switch, bool) {
	switch cell {
	case "":
		return Unknown, true
	case "off", "0", "false":
		return Off, true
	case "on", "1", "true":
		return On, true
	}
	return Unknown, false
}

// parseTime reads an RFC 3339 time. A recording has one or two UTC offsets, and
// all rows of one share a location.
func (r *Reader) parseTime(cell string) (time.Time, bool) {
	t, err := time.ParseInLocation(time.RFC3339, cell, time.UTC)
	if err != nil {
		return time.Time{}, false
	}
	_, offset := t.Zone()
	if r.zones[offset] == nil {
		r.zones[offset] = t.Location()
	}
	return t.In(r.zones[offset]), true
}

// parseNumber reads a decimal number. The words for infinity and not-a-number that
// Go would accept are refused, and so is hexadecimal.
func parseNumber(cell string) (float64, bool) {
	v, err := strconv.ParseFloat(cell, 64)
	return v, err == nil && strings.Trim(cell, "0123456789.-+eE") == ""
}
