// Package replay runs the detector over recordings and says what it would have
// said: as JSON lines, as a story for a person, or as a drawing.
package replay

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/sensor/recording"
)

// Opts say how recordings are replayed.
type Opts struct {
	JSON     bool    // print one JSON object a line
	FloorMM  float64 // distance to the vessel's floor; 0 where it is not known
	FloorSet bool    // FloorMM was asked for
	Plot     string  // SVG to draw; "" for none
	Bowl     bool    // the vessel holds dough
	Target   float64 // rise that a bowl waits for; 0 is the usual
}

// Check finds switches that contradict each other.
func (o Opts) Check(args []string) error {
	switch {
	case o.FloorSet && !(o.FloorMM > 0 && o.FloorMM < 10000):
		return fmt.Errorf("--floor: %v is not a distance between 0 and 10000 mm", o.FloorMM)
	case o.Target != 0 && !o.Bowl:
		return errors.New("--target is for dough; add --bowl")
	case o.Bowl && o.FloorMM == 0:
		return errors.New("--bowl needs --floor, because a target rise is a ratio of heights")
	case o.Target != 0 && !(o.Target > 1 && o.Target <= 10):
		return fmt.Errorf("--target: %v is not a rise between 1 and 10", o.Target)
	case o.Plot != "" && len(args) != 1:
		return errors.New("--plot draws one recording; name one FILE")
	}
	return nil
}

// detector returns what they tell the detector.
func (o Opts) detector() peak.Opts {
	d := peak.Opts{FloorKnown: o.FloorMM > 0, TargetRatio: o.Target}
	if o.Bowl {
		d.Kind = peak.Bowl
	}
	return d
}

// Files replays recordings; the first that is no recording ends it.
func Files(stdout, stderr io.Writer, files []string, o Opts) error {
	out := bufio.NewWriterSize(stdout, 64<<10)
	defer out.Flush()
	for i, name := range files {
		if !o.JSON && len(files) > 1 {
			fmt.Fprintf(out, "%s%s\n", map[bool]string{true: "\n"}[i > 0], name)
		}
		if err := o.file(out, stderr, name); err != nil {
			out.Flush()
			return fmt.Errorf("replay %s: %w", name, err)
		}
	}
	return out.Flush()
}

// file replays one recording.
func (o Opts) file(out *bufio.Writer, stderr io.Writer, name string) error {
	rows, closer, err := openRecording(name)
	if err != nil {
		return err
	}
	defer closer.Close()
	r := &player{name: name, rows: rows, stderr: stderr, detector: peak.New(o.detector()), opts: o.detector(), floor: o.FloorMM}
	if o.JSON {
		r.tell = func(e peak.Event) { writeEvent(out, e, o.FloorMM) }
	} else {
		s := &story{out: out, bowl: o.Bowl}
		r.tell = s.tell
		defer func() { s.end(r) }()
	}
	if o.Plot != "" {
		r.chart = &chart{title: name, floor: o.FloorMM}
	}
	if err := r.run(); err != nil {
		return err
	}
	if r.chart != nil {
		return r.chart.save(o.Plot)
	}
	return nil
}

// openRecording opens a recording, packed or not.
func openRecording(name string) (*recording.Reader, io.Closer, error) {
	file, err := os.Open(name)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil, text.Fail("cli.file.missing")
	}
	if err != nil {
		return nil, nil, err
	}
	in, _, err := Unpack(file)
	if err == nil {
		var rows *recording.Reader
		if rows, err = recording.NewReader(in); err == nil {
			return rows, file, nil
		}
	}
	file.Close()
	return nil, nil, err
}

// Unpack reads through gzip where the first two bytes say that it is packed.
func Unpack(file io.Reader) (in io.Reader, closer func() error, err error) {
	buffered := bufio.NewReaderSize(file, 256<<10)
	head, _ := buffered.Peek(2)
	if !bytes.Equal(head, []byte{0x1f, 0x8b}) {
		return buffered, func() error { return nil }, nil
	}
	z, err := gzip.NewReader(buffered)
	if err != nil {
		return nil, nil, fmt.Errorf("no recording: a broken gzip file: %w", err)
	}
	return z, z.Close, nil
}

// badRowsShown is how many bad rows are named before the rest is only counted.
const badRowsShown = 20

// player runs one detector over one recording.
type player struct {
	name     string
	rows     *recording.Reader
	stderr   io.Writer
	detector *peak.Detector
	opts     peak.Opts
	floor    float64 // distance to the floor, mm; 0 when not known
	tell     func(peak.Event)
	chart    *chart // nil when nothing is drawn

	n, bad      int
	first, last time.Time
}

// run replays to the end of the file.
func (r *player) run() error {
	for {
		row, err := r.rows.Next()
		var bad *recording.RowError
		switch {
		case err == io.EOF:
			r.closeBadRows()
			return nil
		case errors.As(err, &bad):
			r.badRow(bad)
			continue
		case err != nil:
			return err
		}
		r.row(row)
	}
}

func (r *player) badRow(bad *recording.RowError) {
	r.bad++
	if r.bad <= badRowsShown {
		fmt.Fprintf(r.stderr, "leavend: replay %s: %v; the row is skipped\n", r.name, bad)
	}
}

func (r *player) closeBadRows() {
	if r.bad > badRowsShown {
		fmt.Fprintf(r.stderr, "leavend: replay %s: %d more bad rows were skipped\n", r.name, r.bad-badRowsShown)
	}
}

// row hands one row to the detector and its events on.
func (r *player) row(row recording.Row) {
	if r.n == 0 {
		r.first = row.At
	}
	r.n++
	if row.At.After(r.last) {
		r.last = row.At
	}
	if row.Note == recording.NewStarter {
		r.detector = peak.New(r.opts) // what it learnt was of another
	}
	if row.Note == recording.Fed {
		r.events(r.detector.Fed(row.At))
	}
	// Without a floor the height is the distance with its sign turned, which
	// is as good for every difference.
	r.events(r.detector.Add(row.At, r.floor-row.DistanceMM, row.TempC))
	if r.chart != nil {
		r.chart.row(row, r.detector)
	}
}

func (r *player) events(events []peak.Event) {
	for _, e := range events {
		r.tell(e)
		if r.chart != nil {
			r.chart.event(e)
		}
	}
}

// writeEvent prints one event as a JSON line. It is written by hand because
// a year of a jar has a hundred thousand of them and the shape is fixed.
func writeEvent(w *bufio.Writer, e peak.Event, floor float64) {
	b := w.AvailableBuffer()
	b = append(b, `{"event":"`...)
	b = append(b, e.Kind.String()...)
	b = append(b, '"')
	b = appendTime(b, "time", e.At)
	if e.Kind != peak.EventFault {
		b = appendTime(b, "feed_time", e.FeedAt)
	}
	switch e.Kind {
	case peak.EventFed:
		b = appendText(b, "source", e.Source)
	case peak.EventFault:
		b = appendText(b, "fault", e.Fault.String())
	default:
		b = appendTime(b, "peak_time", e.PeakAt)
		b = appendTime(b, "low", e.Low)
		b = appendTime(b, "high", e.High)
		b = appendNumber(b, "rise_ratio", e.RiseRatio, 3)
		b = appendNumber(b, "rise_mm", e.RiseMM, 1)
		if e.Kind != peak.EventForecast {
			b = appendHeight(b, e.HeightMM, floor)
		}
	}
	w.Write(append(b, '}', '\n'))
}
