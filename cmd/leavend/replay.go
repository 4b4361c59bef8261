package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/failure"
	"leavend/peak"
	"leavend/sensor/recording"
)

// replayFlags are the switches of the replay command.
type replayFlags struct {
	json   bool
	floor  float64
	plot   string
	bowl   bool
	target float64
}

func newReplayCommand() *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use:   "replay FILE...",
		Short: "Run the detector over recordings and tell what it would have said",
		Long: `Replay reads recordings (CSV, or CSV packed with gzip), runs the daemon's own
detector over them and prints what it would have said and when. Nothing that is
printed for a moment depends on rows after it. A row that cannot be read is
named on stderr and skipped.`,
		Args: takes(1, -1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(cmd, args); err != nil {
				return failure.Misuse(err)
			}
			return f.run(cmd.OutOrStdout(), cmd.ErrOrStderr(), args)
		},
	}
	flags := c.Flags()
	flags.BoolVar(&f.json, "json", false, "print one JSON object a line instead of a story")
	flags.Float64Var(&f.floor, "floor", 0, "distance from the sensor to the vessel's inside floor, mm; without it there are no rise ratios")
	flags.StringVar(&f.plot, "plot", "", "draw the curve of the one FILE into this SVG")
	flags.BoolVar(&f.bowl, "bowl", false, "the vessel holds dough and waits for a target rise (needs --floor)")
	flags.Float64Var(&f.target, "target", 0, "the target rise of a bowl, height over height at the feed (default 1.75)")
	return c
}

// check finds switches that contradict each other.
func (f *replayFlags) check(cmd *cobra.Command, args []string) error {
	switch {
	case cmd.Flags().Changed("floor") && !(f.floor > 0 && f.floor < 10000):
		return fmt.Errorf("--floor: %v is not a distance between 0 and 10000 mm", f.floor)
	case f.target != 0 && !f.bowl:
		return errors.New("--target is for dough; add --bowl")
	case f.bowl && f.floor == 0:
		return errors.New("--bowl needs --floor, because a target rise is a ratio of heights")
	case f.target != 0 && !(f.target > 1 && f.target <= 10):
		return fmt.Errorf("--target: %v is not a rise between 1 and 10", f.target)
	case f.plot != "" && len(args) != 1:
		return errors.New("--plot draws one recording; name one FILE")
	}
	return nil
}

// opts returns what the flags tell the detector.
func (f *replayFlags) opts() peak.Opts {
	o := peak.Opts{FloorKnown: f.floor > 0, TargetRatio: f.target}
	if f.bowl {
		o.Kind = peak.Bowl
	}
	return o
}

// run replays all files; the first that is no recording ends it.
func (f *replayFlags) run(stdout, stderr io.Writer, files []string) error {
	out := bufio.NewWriterSize(stdout, 64<<10)
	defer out.Flush()
	for i, name := range files {
		if !f.json && len(files) > 1 {
			fmt.Fprintf(out, "%s%s\n", map[bool]string{true: "\n"}[i > 0], name)
		}
		if err := f.file(out, stderr, name); err != nil {
			out.Flush()
			return fmt.Errorf("replay %s: %w", name, err)
		}
	}
	return out.Flush()
}

// file replays one recording.
func (f *replayFlags) file(out *bufio.Writer, stderr io.Writer, name string) error {
	rows, closer, err := openRecording(name)
	if err != nil {
		return err
	}
	defer closer.Close()
	r := &replayer{name: name, rows: rows, stderr: stderr, detector: peak.New(f.opts()), opts: f.opts(), floor: f.floor}
	if f.json {
		r.tell = func(e peak.Event) { writeEvent(out, e, f.floor) }
	} else {
		s := &story{out: out, bowl: f.bowl}
		r.tell = s.tell
		defer func() { s.end(r) }()
	}
	if f.plot != "" {
		r.chart = &chart{title: name, floor: f.floor}
	}
	if err := r.run(); err != nil {
		return err
	}
	if r.chart != nil {
		return r.chart.save(f.plot)
	}
	return nil
}

// openRecording opens a recording, packed or not.
func openRecording(name string) (*recording.Reader, io.Closer, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, nil, err
	}
	in, _, err := unpack(file)
	if err == nil {
		var rows *recording.Reader
		if rows, err = recording.NewReader(in); err == nil {
			return rows, file, nil
		}
	}
	file.Close()
	return nil, nil, err
}

// unpack reads through gzip where the first two bytes say that it is packed.
func unpack(file io.Reader) (in io.Reader, closer func() error, err error) {
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

// replayer runs one detector over one recording.
type replayer struct {
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
func (r *replayer) run() error {
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

func (r *replayer) badRow(bad *recording.RowError) {
	r.bad++
	if r.bad <= badRowsShown {
		fmt.Fprintf(r.stderr, "leavend: replay %s: %v; the row is skipped\n", r.name, bad)
	}
}

func (r *replayer) closeBadRows() {
	if r.bad > badRowsShown {
		fmt.Fprintf(r.stderr, "leavend: replay %s: %d more bad rows were skipped\n", r.name, r.bad-badRowsShown)
	}
}

// row hands one row to the detector and its events on.
func (r *replayer) row(row recording.Row) {
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

func (r *replayer) events(events []peak.Event) {
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
		b = appendText(b, "fault", e.Fault)
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
