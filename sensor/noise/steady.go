package noise

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"leavend/sensor"
)

// SteadyOpts says how steady a source should be and what that may cost. A zero
// field takes its default.
type SteadyOpts struct {
	Target float64       // standard deviation of what is read, in the source's unit; default 0.5
	Within time.Duration // the time that one reading may take; default 1 s
	Most   int           // readings for one, at most; default 64
}

// learnBurst is how many readings are taken on end while too few are known to
// choose by: neighbours in a burst show how alike they are. The first reading
// is alone, and tells how many of them fit into the time.
const learnBurst = 5

// Steady is a source that averages another one as far as its noise asks for.
// It watches the latest readings, and after each [Enough] of them chooses again
// how many make one. As with every source, one goroutine reads; any may ask
// what was chosen.
type Steady struct {
	src    sensor.Source
	opts   SteadyOpts
	window [2 * Enough]float64 // the latest readings, a ring
	row    [2 * Enough]float64 // the same in their order
	seen   int                 // readings since the start
	chosen int                 // of them when the choice was made
	took   time.Duration       // the slowest of the readings since
	mean   *Mean

	mu    sync.Mutex // guards stats and count
	count int        // readings that make one
	stats Stats      // from which that follows; zero while it is learnt
}

// NewSteady returns a source that steadies src.
func NewSteady(src sensor.Source, opts SteadyOpts) *Steady {
	if opts.Target == 0 {
		opts.Target = 0.5
	}
	if opts.Within == 0 {
		opts.Within = time.Second
	}
	if opts.Most == 0 {
		opts.Most = 64
	}
	s := &Steady{src: src, opts: opts}
	s.average(1, Stats{})
	return s
}

// average makes n readings one from now on.
func (s *Steady) average(n int, from Stats) {
	s.mu.Lock()
	s.count, s.stats = n, from
	s.mu.Unlock()
	if s.mean == nil || len(s.mean.values) != n {
		s.mean = newMean(&tap{s}, n)
	}
}

// String names the source and how many of its readings make one.
func (s *Steady) String() string {
	n, _, _ := s.Chosen()
	return fmt.Sprintf("%v, %d averaged", s.src, n)
}

// Chosen returns how many readings make one, and from what noise that follows;
// ok is false while it is still being learnt.
func (s *Steady) Chosen() (n int, from Stats, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.count, s.stats, s.stats.N > 0
}

// Read returns the mean of as many readings as the noise asks for.
func (s *Steady) Read(ctx context.Context) (sensor.Reading, error) {
	first := s.seen == 0
	r, err := s.mean.Read(ctx)
	switch {
	case s.seen-s.chosen >= Enough:
		s.choose()
	case first && s.seen > 0:
		s.average(max(min(learnBurst, s.fit()), 1), Stats{})
	}
	return r, err
}

// fit is how many readings fit into the time that one may take.
func (s *Steady) fit() int {
	if s.took <= 0 {
		return math.MaxInt
	}
	return int(s.opts.Within / s.took)
}

// choose looks at the latest readings and decides how many make one.
func (s *Steady) choose() {
	n := min(s.seen, len(s.window))
	for i := range n {
		s.row[i] = s.window[(s.seen-n+i)%len(s.window)]
	}
	stats := Of(s.row[:n])
	want, _ := stats.Samples(s.opts.Target, max(min(s.opts.Most, s.fit()), 1))
	s.average(want, stats)
	s.chosen, s.took = s.seen, 0
}

// tap lets Steady see the single readings.
type tap struct{ s *Steady }

// Read reads the source and notes what it said and how long that took.
func (t *tap) Read(ctx context.Context) (sensor.Reading, error) {
	from := time.Now()
	r, err := t.s.src.Read(ctx)
	if err == nil {
		t.s.took = max(t.s.took, time.Since(from))
		t.s.window[t.s.seen%len(t.s.window)] = r.Value
		t.s.seen++
	}
	return r, err
}

// String names the source.
func (t *tap) String() string { return fmt.Sprint(t.s.src) }
