package recording

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"leavend/sensor"
)

// ErrEnded is what a played recording answers once its last row has passed.
var ErrEnded = errors.New("the recording has ended")

// PlayerOpts says how a recording is played.
type PlayerOpts struct {
	Start time.Time // when the first row is due; required
	Speed float64   // recorded seconds per second; 0 means 1
	Loop  bool      // start over behind the last row
}

// Player plays a recording as if its sensors were there now.
type Player struct {
	rows []Row // in time order
	opts PlayerOpts
	span time.Duration // from the first row to the end of the last
}

// NewPlayer returns a player of rows, which it puts in order of time.
func NewPlayer(rows []Row, opts PlayerOpts) (*Player, error) {
	if len(rows) == 0 {
		return nil, errors.New("play recording: it holds no rows")
	}
	if opts.Speed == 0 {
		opts.Speed = 1
	}
	if !(opts.Speed > 0) || math.IsInf(opts.Speed, 0) {
		return nil, fmt.Errorf("play recording: speed %v is not above zero", opts.Speed)
	}
	rows = append([]Row(nil), rows...)
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].At.Before(rows[j].At) })
	p := &Player{rows: rows, opts: opts}
	p.span = rows[len(rows)-1].At.Sub(rows[0].At) + p.step()
	return p, nil
}

// step is the usual distance of two rows: the median, for gaps are rare and
// long. It is how long the last row holds.
func (p *Player) step() time.Duration {
	steps := make([]time.Duration, 0, len(p.rows))
	for i := 1; i < len(p.rows); i++ {
		steps = append(steps, p.rows[i].At.Sub(p.rows[i-1].At))
	}
	if len(steps) == 0 {
		return time.Minute
	}
	sort.Slice(steps, func(i, j int) bool { return steps[i] < steps[j] })
	return max(steps[len(steps)/2], time.Second)
}

// Row returns the row that holds at now, with its time moved into the present.
// Before the start there is none, and behind the end the error is ErrEnded.
func (p *Player) Row(now time.Time) (Row, error) {
	since := time.Duration(float64(now.Sub(p.opts.Start)) * p.opts.Speed)
	if since < 0 {
		return Row{}, errors.New("the recording has not started")
	}
	round := time.Duration(0)
	if p.opts.Loop {
		round = since / p.span * p.span
	}
	since -= round
	if since >= p.span {
		return Row{}, ErrEnded
	}
	first := p.rows[0].At
	i := sort.Search(len(p.rows), func(i int) bool { return p.rows[i].At.Sub(first) > since }) - 1
	row := p.rows[i]
	due := float64(round+row.At.Sub(first)) / p.opts.Speed
	row.At = p.opts.Start.Add(time.Duration(due))
	return row, nil
}

// Distance returns the recording's distance as a source.
func (p *Player) Distance() sensor.Source { return &track{p, sensor.Distance} }

// Temperature returns the recording's temperature as a source.
func (p *Player) Temperature() sensor.Source { return &track{p, sensor.Temperature} }

// track is one column of a recording being played.
type track struct {
	player   *Player
	quantity sensor.Quantity
}

// String names the source in logs.
func (t *track) String() string { return "recording " + t.quantity.String() }

// Read returns the cell that holds now. Its time is when the row was due, so
// a row read twice is seen to be the same, and its age is true.
func (t *track) Read(ctx context.Context) (sensor.Reading, error) {
	if err := ctx.Err(); err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", t, err)
	}
	row, err := t.player.Row(time.Now())
	if err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", t, err)
	}
	v := row.DistanceMM
	if t.quantity == sensor.Temperature {
		v = row.TempC
	}
	if math.IsNaN(v) {
		return sensor.Reading{}, fmt.Errorf("%s: read: line %d holds no %s", t, row.Line, t.quantity)
	}
	return sensor.Reading{At: row.At, Quantity: t.quantity, Value: v, Status: row.Note}, nil
}
