package control

import "time"

// Persisted is what the mat asks the store to keep over a restart. It holds
// no time: after a restart the minimum off-time is served in full.
type Persisted struct {
	Latched []FaultKind   `json:"latched,omitempty"`
	NeedOn  time.Duration `json:"need_on_ns,omitempty"` // on-time this mat takes for GainC
	Learned int           `json:"learned,omitempty"`
}

// Persist returns what should be stored, whenever it has changed.
func (m *Mat) Persist() Persisted {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := Persisted{NeedOn: m.g.gain.needOn, Learned: m.g.gain.learned}
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
	m.note(command{})
	m.publish()
}
