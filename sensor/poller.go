package sensor

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Item is one source on a bus, under the name it is delivered by.
type Item struct {
	Name   string
	Source Source
}

// Deliver takes what a read gave: a reading, or an error and no reading. It is
// called from the goroutine that runs the poller, must not block, and hears of
// every item once in every round.
type Deliver func(name string, r Reading, err error)

// PollerOpts says how often and how patiently a bus is read.
type PollerOpts struct {
	Period time.Duration // from the start of one round to the next; 0 means 10 s
	Limit  time.Duration // for one read; 0 means 2 s
	// Late, if set, hears by how much a round overran its period, so that a
	// bus that cannot keep up does not do so in silence.
	Late func(by time.Duration)
}

// ErrHung marks the error of a read that does not come back although its time
// is over. While it lasts, every item on the bus is delivered with it.
var ErrHung = errors.New("the bus hangs")

// Poller owns a bus: it reads the bus's sources one after the other, so that
// no two of them ever talk at once.
type Poller struct {
	bus     string
	items   []Item
	deliver Deliver
	opts    PollerOpts
	asks    chan Source // to the goroutine that reads
	answers chan answer // and back; there is never more than one under way
	time    *deadline   // the context of the reads
	grace   *time.Timer // for a read whose time is over to come back
	busy    *busyRead   // the read that has not come back, or nil
}

// answer is what one read gave.
type answer struct {
	r   Reading
	err error
}

// busyRead is a read that overran its limit.
type busyRead struct {
	name  string
	since time.Time
}

// NewPoller returns a poller of the items on one bus, which is named for its
// errors. Items are read in the order given: put the temperatures first.
func NewPoller(bus string, items []Item, deliver Deliver, opts PollerOpts) *Poller {
	if opts.Period <= 0 {
		opts.Period = 10 * time.Second
	}
	if opts.Limit <= 0 {
		opts.Limit = 2 * time.Second
	}
	return &Poller{bus: bus, items: items, deliver: deliver, opts: opts}
}

// Run reads round after round until ctx ends, and returns nil then. A source
// that ignores its context cannot be stopped: Run returns all the same, and
// that one read is left behind. A poller runs once.
func (p *Poller) Run(ctx context.Context) error {
	p.asks, p.answers = make(chan Source), make(chan answer, 1)
	defer close(p.asks)
	go p.work()
	limit, release := newDeadline(ctx)
	defer release()
	p.time, p.grace = limit, time.NewTimer(time.Hour)
	defer p.time.timer.Stop()
	defer p.grace.Stop()
	next := time.NewTimer(0)
	defer next.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-next.C:
		}
		start := time.Now()
		p.round(ctx)
		took := time.Since(start)
		if took > p.opts.Period && p.opts.Late != nil {
			p.opts.Late(took - p.opts.Period)
		}
		next.Reset(max(0, p.opts.Period-took))
	}
}

// round reads every item once.
func (p *Poller) round(ctx context.Context) {
	for _, it := range p.items {
		if ctx.Err() != nil {
			return
		}
		r, err := p.read(it)
		if err != nil {
			r = Reading{}
		}
		p.deliver(it.Name, r, err)
	}
}

// work does the reads, in a goroutine of its own, for a driver stuck in the
// kernel must not stop the loop. There is only one of it, so no two sources of
// the bus are ever read at once.
func (p *Poller) work() {
	for s := range p.asks {
		p.answers <- ask(p.time, s)
	}
}

// read reads one item within the limit.
func (p *Poller) read(it Item) (Reading, error) {
	if err := p.stillBusy(); err != nil {
		return Reading{}, err
	}
	since := time.Now()
	p.time.set(p.opts.Limit)
	p.asks <- it.Source
	select {
	case a := <-p.answers:
		p.time.timer.Stop()
		return a.r, a.err
	case <-p.time.Done():
	}
	// A driver that heeds its context comes back at once; it gets a moment.
	p.grace.Reset(p.opts.Limit / 4)
	select {
	case a := <-p.answers:
		if a.err == nil {
			a.err = fmt.Errorf("%s: %s: read took longer than %v", p.bus, it.Name, p.opts.Limit)
		}
		return Reading{}, a.err
	case <-p.grace.C:
		p.busy = &busyRead{name: it.Name, since: since}
		return Reading{}, p.stillBusy()
	}
}

// stillBusy returns an error while an earlier read has not come back. Its late
// answer is thrown away: what it measured, and when, is unknown.
func (p *Poller) stillBusy() error {
	if p.busy == nil {
		return nil
	}
	select {
	case <-p.answers:
		p.busy = nil
		return nil
	default:
		return fmt.Errorf("%s: %w in the read of %s, for %v now",
			p.bus, ErrHung, p.busy.name, time.Since(p.busy.since).Round(time.Second))
	}
}

// ask reads a source and turns a panic into an error: the mat hangs on this
// program, and no driver may end it.
func ask(ctx context.Context, s Source) (a answer) {
	defer func() {
		if v := recover(); v != nil {
			a = answer{err: fmt.Errorf("the driver panicked, which is a bug: %v", v)}
		}
	}()
	r, err := s.Read(ctx)
	return answer{r: r, err: err}
}
