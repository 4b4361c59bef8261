package control

import (
	"math"
	"time"
)

// Persisted is what the mat asks the store to keep over a restart. It holds
// no time: after a restart the minimum off-time is served in full.
type Persisted struct {
	Latched []FaultKind   `json:"latched,omitempty"`
	NeedOn  time.Duration `json:"need_on_ns,omitempty"` // on-time this mat takes for GainC
	Learned int           `json:"learned,omitempty"`
	Mat     Learnt        `json:"mat,omitzero"`
	Life    Life          `json:"life,omitzero"`
}

// Life is what the switch has done altogether.
type Life struct {
	Switches uint64        `json:"switches"` // off to on
	On       time.Duration `json:"on_ns"`
}

// ok reports whether l could be true: no switch does ten a second for years.
func (l Life) ok() bool { return l.Switches < 1e9 && l.On >= 0 && l.On < 100*365*24*time.Hour }

// Learnt is what the thermostat knows of a mat and its vessel.
type Learnt struct {
	DelayMin float64 `json:"delay_min"`  // from wire to probe, minutes
	RateCMin float64 `json:"rate_c_min"` // warming at full power, °C a minute
	LossMin  float64 `json:"loss_min"`   // share of the excess warmth lost a minute
}

// ok reports whether l could be true; a store may hold anything.
func (l Learnt) ok() bool {
	in := func(v, lo, hi float64) bool { return !math.IsNaN(v) && v >= lo && v <= hi }
	return in(l.DelayMin, 0.1, 120) && in(l.RateCMin, 0.001, 10) && in(l.LossMin, 1e-5, 1)
}

// Persist returns what should be stored, whenever it has changed.
func (m *Mat) Persist() Persisted {
	m.mu.Lock()
	defer m.mu.Unlock()
	// Rounded up, so that it changes seldom and never tightens the rule.
	const step = 5 * time.Minute
	p := Persisted{NeedOn: (m.g.gain.needOn + step - 1) / step * step, Learned: m.g.gain.learned}
	if !m.g.on {
		// While it heats the life would change each minute, and wear out a card.
		m.counts.kept = m.counts.Life
	}
	p.Life = m.counts.kept
	if m.therm.bank != nil {
		p.Mat = m.therm.bank.learnt()
	}
	if p.Mat == (Learnt{}) {
		p.Mat = m.therm.learnt
	}
	for _, k := range allFaults() {
		if l, ok := latchOf(k); ok && m.g.latched&l != 0 {
			p.Latched = append(p.Latched, k)
		}
	}
	return p
}

// Restore takes what Persist gave, before the first reading. Latched faults
// are latched again; a name it does not know latches too, for a fault from a
// newer version is still a fault.
func (m *Mat) Restore(p Persisted) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, k := range p.Latched {
		l, ok := latchOf(k)
		if !ok {
			l = latchPanic
		}
		m.g.latched |= l
	}
	if p.NeedOn > 0 && p.NeedOn <= m.lim.GainTime && p.Learned > 0 {
		m.g.gain.needOn, m.g.gain.learned = p.NeedOn, min(p.Learned, 3)
	}
	if p.Life.ok() {
		m.counts.Life, m.counts.kept = p.Life, p.Life
	}
	if p.Mat.ok() {
		m.therm.learnt = p.Mat
	}
	m.note(command{})
	m.publish()
}
