package store

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"leavend/sensor/recording"
)

// rowMS is how far apart readings may be that stand in one row of a
// recording: a bus is asked probe after probe.
const rowMS = 5000

// ExportCSV writes a vessel's readings from from to to (exclusive) as a
// recording, with a row noted as fed for each feed, and one for each new
// starter. Channels beside distance,
// temperature and mat stand in columns of their own. Where the full rate was
// thinned already, rows are means of a minute, and the column "mean_of" says
// of how many readings. It returns the number of rows.
func (s *Copies) ExportCSV(ctx context.Context, w io.Writer, vessel string, from, to time.Time) (int, error) {
	feeds, err := s.journal.Feeds(ctx, Query{Vessel: vessel, From: from, To: to})
	if err != nil {
		return 0, err
	}
	starters, err := s.journal.Starters(ctx, Query{Vessel: vessel, From: from, To: to})
	if err != nil {
		return 0, err
	}
	v, err := s.readings.look(ctx, vessel)
	if err != nil {
		return 0, err
	}
	defer v.close()
	x := &exporter{walker: walker{view: v, from: from.UnixMilli(), to: to.UnixMilli()}, notes: notesOf(feeds, starters)}
	x.each = x.add
	if err := x.begin(w); err != nil {
		return 0, fmt.Errorf("store: export %s: %w", vessel, err)
	}
	if err := x.run(ctx); err != nil {
		return x.rows, fmt.Errorf("store: export %s: %w", vessel, err)
	}
	return x.rows, nil
}

// exporter gathers a vessel's numbers into rows.
type exporter struct {
	walker
	notes []exportNote // still to come, oldest first
	out   *recording.Writer
	extra []Channel // columns of their own, in order
	rows  int

	row   recording.Row
	first int64 // time of the row's first number, ms; 0 if there is no row
	cells map[Channel]float64
	mean  int64
}

func (x *exporter) begin(w io.Writer) error {
	for _, c := range x.view.channels {
		if c != Distance && c != Warmth && c != MatOn {
			x.extra = append(x.extra, c)
		}
	}
	slices.Sort(x.extra)
	names := make([]string, 0, len(x.extra)+1)
	for _, c := range x.extra {
		names = append(names, string(c))
	}
	x.cells = map[Channel]float64{}
	var err error
	x.out, err = recording.NewWriter(w, recording.WriterOpts{Mat: true, Raw: append(names, "mean_of")})
	return err
}

// run writes all rows.
func (x *exporter) run(ctx context.Context) error {
	if err := x.walk(ctx); err != nil {
		return err
	}
	if err := x.end(); err != nil {
		return err
	}
	return x.notesUntil(math.MaxInt64)
}

// add puts one number into the row being gathered, or begins the next.
func (x *exporter) add(c Channel, at int64, v float64, mean int64) error {
	_, taken := x.cells[c]
	if x.first != 0 && (taken || at-x.first > rowMS || at < x.first || mean != 0 && at != x.first) {
		if err := x.end(); err != nil {
			return err
		}
	}
	if x.first == 0 {
		if err := x.notesUntil(at); err != nil {
			return err
		}
		x.first, x.row = at, recording.Empty(time.UnixMilli(at).UTC())
	}
	if c == Distance {
		x.row.At = time.UnixMilli(at).UTC() // the row is about the curve
	}
	x.cells[c] = v
	x.mean = max(x.mean, mean)
	return nil
}

// end writes the row being gathered.
func (x *exporter) end() error {
	if x.first == 0 {
		return nil
	}
	if v, ok := x.cells[Distance]; ok {
		x.row.DistanceMM = v
	}
	if v, ok := x.cells[Warmth]; ok {
		x.row.TempC = v
	}
	if v, ok := x.cells[MatOn]; ok {
		x.row.Mat = recording.Off
		if v >= 0.5 {
			x.row.Mat = recording.On
		}
	}
	cells := make([]string, 0, len(x.extra)+1)
	for _, c := range x.extra {
		cell := ""
		if v, ok := x.cells[c]; ok {
			cell = strconv.FormatFloat(value(int64(math.Round(v/quantum))), 'f', -1, 64)
		}
		cells = append(cells, cell)
	}
	of := ""
	if x.mean > 0 {
		of = strconv.FormatInt(x.mean, 10)
	}
	err := x.out.Write(x.row, append(cells, of)...)
	x.rows++
	x.first, x.mean = 0, 0
	clear(x.cells)
	return err
}

// exportNote is a row of its own for what the baker did.
type exportNote struct {
	at   time.Time
	note string
}

// notesOf brings feeds and new starters into one order. A starter that begins
// with a feed stands in front of it.
func notesOf(feeds []Feed, starters []NewStarter) []exportNote {
	var all []exportNote
	for _, n := range starters {
		all = append(all, exportNote{n.At, recording.NewStarter})
	}
	for _, f := range feeds {
		note := recording.Fed
		if f.Source == Found {
			note = "found" // not marked: replay is to find it again
		}
		all = append(all, exportNote{f.At, note})
	}
	slices.SortStableFunc(all, func(a, b exportNote) int { return a.at.Compare(b.at) })
	return all
}

// notesUntil writes the rows of what the baker did before a time.
func (x *exporter) notesUntil(at int64) error {
	for len(x.notes) > 0 && x.notes[0].at.UnixMilli() <= at {
		row := recording.Empty(x.notes[0].at)
		row.Note = x.notes[0].note
		if err := x.out.Write(row, make([]string, len(x.extra)+1)...); err != nil {
			return err
		}
		x.rows++
		x.notes = x.notes[1:]
	}
	return nil
}
