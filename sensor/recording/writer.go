package recording

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// WriterOpts says which columns follow the four that every recording has.
type WriterOpts struct {
	Mat bool     // add the mat column
	Raw []string // names of further columns, such as a chip's own status words
}

// Writer writes a recording. Each row reaches the file in one write, so that
// a loss of power tears at most the row being written.
type Writer struct {
	w    io.Writer
	opts WriterOpts
	line []byte
}

// NewWriter writes the header and returns the writer of the rows.
func NewWriter(w io.Writer, opts WriterOpts) (*Writer, error) {
	out := ContinueWriter(w, opts)
	names := []string{"time", "distance_mm", "temperature_c", "note"}
	if opts.Mat {
		names = append(names, "mat")
	}
	for _, name := range append(names, opts.Raw...) {
		out.text(name)
	}
	return out, out.end()
}

// ContinueWriter returns a writer of further rows for a file that already has
// its header, made with the same options.
func ContinueWriter(w io.Writer, opts WriterOpts) *Writer {
	return &Writer{w: w, opts: opts}
}

// Write writes one row. NaN becomes an empty cell; distance and temperature
// are rounded to a ten-thousandth, the time to a millisecond. raw holds the
// cells of the raw columns, as many as were named.
func (w *Writer) Write(row Row, raw ...string) error {
	if len(raw) != len(w.opts.Raw) {
		return fmt.Errorf("write row: %d raw cells for %d raw columns", len(raw), len(w.opts.Raw))
	}
	w.line = row.At.AppendFormat(w.line[:0], "2006-01-02T15:04:05.999Z07:00")
	w.line = append(w.line, ',')
	w.number(row.DistanceMM)
	w.number(row.TempC)
	w.text(row.Note)
	if w.opts.Mat {
		w.text(row.Mat.String())
	}
	for _, cell := range raw {
		w.text(cell)
	}
	return w.end()
}

// number appends v, or nothing when it is no number.
func (w *Writer) number(v float64) {
	if !math.IsNaN(v) && !math.IsInf(v, 0) {
		w.line = strconv.AppendFloat(w.line, math.Round(v*1e4)/1e4, 'f', -1, 64)
	}
	w.line = append(w.line, ',')
}

// text appends a cell, quoted where RFC 4180 wants it.
func (w *Writer) text(cell string) {
	if strings.ContainsAny(cell, "\",\r\n") {
		cell = `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
	}
	w.line = append(w.line, cell...)
	w.line = append(w.line, ',')
}

// end turns the last comma into a line break and hands the line over.
func (w *Writer) end() error {
	w.line[len(w.line)-1] = '\n'
	_, err := w.w.Write(w.line)
	w.line = w.line[:0]
	if err != nil {
		return fmt.Errorf("write row: %w", err)
	}
	return nil
}
