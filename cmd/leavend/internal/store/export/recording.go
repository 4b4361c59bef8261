package export

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"leavend/cmd/leavend/internal/store"
	"leavend/sensor/recording"
)

// apart is how far apart readings may be that stand in one row of a recording: a
// bus is asked probe after probe.
const apart = 5 * time.Second

// Recording writes a vessel's readings from from to to (exclusive) as a
// recording, with a row noted as fed for each feed, and one for each new
// starter. Channels beside distance, temperature and mat stand in columns of their
// own. Where the full rate was thinned already, rows are means of a minute, and the
// column "mean_of" says of how many readings. It returns the number of rows.
func Recording(ctx context.Context, s *store.Store, w io.Writer, vessel string, from, to time.Time) (int, error) {
	within := store.Query{Vessel: vessel, From: from, To: to}
	feeds, err := s.Journal.Feeds(ctx, within)
	if err != nil {
		return 0, err
	}
	starters, err := s.Journal.Starters(ctx, within)
	if err != nil {
		return 0, err
	}
	channels, err := s.Readings.Channels(ctx, vessel)
	if err != nil {
		return 0, err
	}
	x := &rows{notes: notesOf(feeds, starters), cells: map[store.Channel]float64{}}
	if err := x.write(ctx, s, w, vessel, channels, from, to); err != nil {
		return x.written, fmt.Errorf("store: export %s: %w", vessel, err)
	}
	return x.written, nil
}

// rows gathers a vessel's numbers into rows.
type rows struct {
	notes   []noteRow // still to come, oldest first
	out     *recording.Writer
	extra   []store.Channel // columns of their own, in order
	written int

	row   recording.Row
	first time.Time // of the row's first number; zero if there is no row
	cells map[store.Channel]float64
	mean  int64
}

func (x *rows) write(ctx context.Context, s *store.Store, w io.Writer, vessel string, channels []store.Channel, from, to time.Time) (err error) {
	var names []string
	for _, c := range channels {
		if c != store.Distance && c != store.Warmth && c != store.MatOn {
			x.extra, names = append(x.extra, c), append(names, string(c))
		}
	}
	if x.out, err = recording.NewWriter(w, recording.WriterOpts{Mat: true, Raw: append(names, "mean_of")}); err != nil {
		return err
	}
	if err := s.Readings.Samples(ctx, vessel, from, to, x.add); err != nil {
		return err
	}
	if err := x.end(); err != nil {
		return err
	}
	return x.notesUntil(time.UnixMilli(math.MaxInt64))
}

// add puts one number into the row being gathered, or begins the next.
func (x *rows) add(s store.Sample) error {
	_, taken := x.cells[s.Channel]
	if later := s.At.Sub(x.first); !x.first.IsZero() && (taken || later > apart || later < 0 || s.MeanOf != 0 && later != 0) {
		if err := x.end(); err != nil {
			return err
		}
	}
	if x.first.IsZero() {
		if err := x.notesUntil(s.At); err != nil {
			return err
		}
		x.first, x.row = s.At, recording.Empty(s.At)
	}
	if s.Channel == store.Distance {
		x.row.At = s.At // the row is about the curve
	}
	x.cells[s.Channel] = s.Value
	x.mean = max(x.mean, s.MeanOf)
	return nil
}

// end writes the row being gathered.
func (x *rows) end() error {
	if x.first.IsZero() {
		return nil
	}
	if v, ok := x.cells[store.Distance]; ok {
		x.row.DistanceMM = v
	}
	if v, ok := x.cells[store.Warmth]; ok {
		x.row.TempC = v
	}
	if v, ok := x.cells[store.MatOn]; ok {
		x.row.Mat = recording.Off
		if v >= 0.5 {
			x.row.Mat = recording.On
		}
	}
	cells := make([]string, 0, len(x.extra)+1)
	for _, c := range x.extra {
		cell := ""
		if v, ok := x.cells[c]; ok {
			cell = strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
		}
		cells = append(cells, cell)
	}
	of := ""
	if x.mean > 0 {
		of = strconv.FormatInt(x.mean, 10)
	}
	err := x.out.Write(x.row, append(cells, of)...)
	x.written++
	x.first, x.mean = time.Time{}, 0
	clear(x.cells)
	return err
}

// noteRow is a row of its own for what the baker did.
type noteRow struct {
	at   time.Time
	note string
}

// notesOf brings feeds and new starters into one order. A starter that begins
// with a feed stands in front of it.
func notesOf(feeds []store.Feed, starters []store.NewStarter) []noteRow {
	var all []noteRow
	for _, n := range starters {
		all = append(all, noteRow{n.At, recording.NewStarter})
	}
	for _, f := range feeds {
		note := recording.Fed
		if f.Source == store.Found {
			note = "found" // not marked: replay is to find it again
		}
		all = append(all, noteRow{f.At, note})
	}
	slices.SortStableFunc(all, func(a, b noteRow) int { return a.at.Compare(b.at) })
	return all
}

// notesUntil writes the rows of what the baker did before a time.
func (x *rows) notesUntil(at time.Time) error {
	for len(x.notes) > 0 && !x.notes[0].at.After(at) {
		row := recording.Empty(x.notes[0].at)
		row.Note = x.notes[0].note
		if err := x.out.Write(row, make([]string, len(x.extra)+1)...); err != nil {
			return err
		}
		x.written++
		x.notes = x.notes[1:]
	}
	return nil
}
