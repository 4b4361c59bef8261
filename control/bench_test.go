package control_test

import (
	"context"
	"math"
	"time"

	"leavend/control"
)

// bench is one night of a lumped plant under a controller.
type bench struct {
	p    *lumped
	o    control.Opts
	m    *control.Mat
	out  *lamp
	rule controller // instead of the mat, for comparison
	at   time.Time

	says     func(c float64) float64   // what becomes of a reading; nil: it stands
	each     func(b *bench, h float64) // a script, once a minute with the hours gone
	silent   bool                      // no reading comes
	roomToo  bool                      // the room's probe reports as well
	restarts time.Duration             // the program restarts so often; 0: never

	// What was seen.
	on, since time.Duration // on-time altogether; and since the mark
	lastOn    time.Duration // when it was last on
	marked    time.Duration
	maxC      float64 // the warmest the vessel has been since the mark
	maxOnC    float64 // and while the mat was on
	ons       []time.Duration
	faults    map[control.FaultKind]time.Duration // when first seen
	was       bool
	welded    bool                                // the mat heats whatever it is told
	lastOnAt  map[control.FaultKind]time.Duration // when the mat was on last before that
}

// benchStart is any instant.
var benchStart = time.Date(2026, 1, 10, 20, 0, 0, 0, time.UTC)

// lamp is an output that shows what was commanded last.
type lamp struct {
	control.Dry
	on bool
}

func (l *lamp) On(context.Context, time.Duration) error { l.on = true; return nil }
func (l *lamp) Off(context.Context) error               { l.on = false; return nil }

// newBench puts a mat on a plant.
func newBench(p *lumped, o control.Opts) *bench {
	b := &bench{p: p, o: o, at: benchStart, faults: map[control.FaultKind]time.Duration{}, lastOnAt: map[control.FaultKind]time.Duration{}, maxC: math.Inf(-1), maxOnC: math.Inf(-1)}
	b.start(control.Snapshot{})
	return b
}

// start makes a new process.
func (b *bench) start(s control.Snapshot) {
	b.out = &lamp{}
	m, err := control.New(b.out, b.o)
	if err != nil {
		panic(err)
	}
	b.m = m
	if s.Version > 0 {
		m.Restore(s, 20*time.Second)
	}
	_ = m.SetMode(b.at, control.Hold)
}

// mark begins to measure.
func (b *bench) mark() {
	b.marked, b.since, b.lastOn = b.p.at, 0, b.p.at
	b.maxC, b.maxOnC = math.Inf(-1), math.Inf(-1)
	clear(b.faults)
	clear(b.lastOnAt)
}

// run lets time pass.
func (b *bench) run(d time.Duration) {
	for end := b.p.at + d; b.p.at < end; {
		if b.each != nil && b.p.at%time.Minute == 0 {
			b.each(b, b.p.at.Hours())
		}
		if b.restarts > 0 && b.p.at%b.restarts == 0 && b.p.at > 0 {
			s := b.m.Snapshot()
			b.m.Close()
			b.start(s)
		}
		b.step()
	}
}

// step reads, decides and heats.
func (b *bench) step() {
	c := b.p.reads()
	if b.says != nil {
		c = b.says(c)
	}
	on := false
	if b.rule != nil {
		b.rule.reading(b.at, c)
		on = b.rule.heats(b.at)
	} else {
		if b.roomToo {
			b.m.Temperature(b.at, "room", control.AtRoom, b.p.readsRoom())
		}
		if !b.silent {
			b.m.Temperature(b.at, "crumb", control.AtVessel, c)
		}
		b.m.Tick(b.at)
		on = b.out.on
	}
	if on {
		b.on, b.since, b.lastOn = b.on+lumpStep, b.since+lumpStep, b.p.at+lumpStep
		if !b.was {
			b.ons = append(b.ons, b.p.at)
		}
	}
	b.was = on
	b.p.step(on || b.welded)
	b.at = b.at.Add(lumpStep)
	v := b.p.vesselC()
	b.maxC = max(b.maxC, v)
	if on {
		b.maxOnC = max(b.maxOnC, v)
	}
	if b.rule == nil && b.p.at%(30*time.Second) == 0 {
		for _, f := range b.m.State().Faults {
			if _, seen := b.faults[f.Kind]; !seen {
				b.faults[f.Kind] = b.p.at
				b.lastOnAt[f.Kind] = b.lastOn
			}
		}
	}
}

// latched returns a fault that latched since the mark, or "".
func (b *bench) latched() control.FaultKind {
	for k := range b.faults {
		if k.Latched() {
			return k
		}
	}
	return ""
}
