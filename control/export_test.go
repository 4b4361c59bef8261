package control

import "time"

// Forced is the guard under the worst of all probes: it reads far too cold, and
// whatever is seen of it, the model says that it answers.
type Forced struct {
	l limits
	g guardState
}

// NewForced makes one that holds.
func NewForced(o Opts) *Forced {
	f := &Forced{l: newLimits(o.withDefaults())}
	f.g.mode, f.g.setpointC = Hold, f.l.SetpointC
	f.g.probes[0] = probe{place: AtVessel, relied: true}
	return f
}

// Heats lets the probe speak and reports whether the mat is on.
func (f *Forced) Heats(now time.Duration) bool {
	f.g, _ = step(&f.l, f.g, event{kind: evReading, tempC: f.l.SetpointC - 10}, now)
	f.g, _ = step(&f.l, f.g, event{kind: evWish, wish: true, said: answers | agrees}, now)
	return f.g.on
}

// Restart takes the guard through a snapshot, as a program that starts again
// every so often would.
func (f *Forced) Restart(o Opts) (*Forced, error) {
	n := NewForced(o)
	m, err := New(&Dry{}, o)
	if err != nil {
		return nil, err
	}
	m.g = f.g
	saved := m.snapshot()
	if m, err = New(&Dry{}, o); err != nil {
		return nil, err
	}
	m.Restore(saved, 0)
	m.g.mode, m.g.setpointC, m.g.probes = n.g.mode, n.g.setpointC, n.g.probes
	n.g = m.g
	return n, nil
}
