package control

import (
	"math"
	"slices"
	"time"
)

// snapshotVersion is the form that Snapshot has now. A snapshot without a
// version is from before limits were kept; its faults, its life and what was
// learnt of the mat are read.
const snapshotVersion = 2

// Snapshot is what must outlive the process: faults, how much the mat has been
// on, the rest it serves, and what was learnt of it. It is about a kilobyte of
// JSON, and ten more with Model, which belongs on no memory card. It holds no time of day: durations count back from when it was taken.
type Snapshot struct {
	Version int         `json:"version,omitempty"`
	Latched []FaultKind `json:"latched,omitempty"`
	On      bool        `json:"on,omitempty"`        // the mat was on, or may have been
	OnS     []int       `json:"on_s,omitempty"`      // on-time by half hours of the last day, s; the newest last
	PhaseS  int         `json:"phase_s,omitempty"`   // how far the newest half hour has got, s
	RunS    int         `json:"run_s,omitempty"`     // on-time that a rest is owed for, s
	RestS   int         `json:"rest_s,omitempty"`    // what is left of a rest, s
	Image   float64     `json:"image,omitempty"`     // thermal image, 0 to 1
	NoGainS int         `json:"no_gain_s,omitempty"` // on-time without a sign that it warms the probe, s
	Tries   int         `json:"tries,omitempty"`     // looks without such a sign
	Fails   int         `json:"fails,omitempty"`     // rests without one
	Spent   bool        `json:"spent,omitempty"`     // the heat given and the reading disagree
	DoubtS  int         `json:"doubt_s,omitempty"`   // what is left of such a look or rest, s
	Looks   bool        `json:"looks,omitempty"`     // it is a look
	WaryS   int         `json:"wary_s,omitempty"`    // for how long each look must be answered again
	Past    int         `json:"past,omitempty"`      // rests before that
	Mat     *Learnt     `json:"mat,omitempty"`
	Model   []byte      `json:"model,omitempty"` // all that the model holds, for a restart within minutes
	Life    Life        `json:"life,omitzero"`
}

// Life is what the switch has done altogether.
type Life struct {
	Switches uint64        `json:"switches"` // off to on
	On       time.Duration `json:"on_ns"`
}

// ok reports whether l could be true: no switch does ten a second for years.
func (l Life) ok() bool { return l.Switches < 1e9 && l.On >= 0 && l.On < 100*365*24*time.Hour }

// Learnt is what the model knows of a mat and its vessel, and how far it
// believes that the probe answers.
type Learnt struct {
	DelayMin float64   `json:"delay_min"`           // from wire to probe, minutes
	RateCMin float64   `json:"rate_c_min"`          // warming at full power, °C a minute
	LossMin  float64   `json:"loss_min"`            // share of the excess temperature lost a minute
	Share    float64   `json:"share,omitempty"`     // of full power that holds it
	OnMin    float64   `json:"on_min,omitempty"`    // on-time that this rests on, minutes
	Contact  float64   `json:"contact,omitempty"`   // log odds that the probe answers
	Jumps    float64   `json:"jumps,omitempty"`     // of the reading, recently
	Stored   []float64 `json:"stored,omitempty"`    // heat on its way, for the likeliest delay
	Was      float64   `json:"was,omitempty"`       // the share that held it when it had arrived
	WasC     float64   `json:"was_c,omitempty"`     // and at what temperature
	GapC     float64   `json:"gap_c,omitempty"`     // how far the heat given should have lifted it above its reading
	UsedPart float64   `json:"used_part,omitempty"` // the share that was given recently
}

// ok reports whether l could be true; a store may hold anything.
func (l Learnt) ok() bool {
	in := func(v, lo, hi float64) bool { return !math.IsNaN(v) && v >= lo && v <= hi }
	good := in(l.DelayMin, 0.1, 120) && in(l.RateCMin, 0.001, 10) && in(l.LossMin, 1e-5, 1) &&
		in(l.Share, -5, 5) && in(l.OnMin, 0, 1e9) && in(l.Contact, -100, 100) && in(l.Jumps, 0, 1000) &&
		in(l.Was, -5, 5) && in(l.WasC, -50, 100) && in(l.GapC, 0, 100) && in(l.UsedPart, 0, 1)
	for _, x := range l.Stored {
		good = good && in(x, 0, 1)
	}
	return good
}

// Snapshot returns what should outlive the process as it is now. Opts.Save
// gets the same whenever it matters.
func (m *Mat) Snapshot() Snapshot {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.snapshot()
}

func (m *Mat) snapshot() Snapshot {
	g := &m.g
	seconds := func(d time.Duration) int { return int((max(d, 0) + time.Second - 1) / time.Second) }
	s := Snapshot{
		Version: snapshotVersion, On: g.on || g.unknown, NoGainS: seconds(g.doubt.on),
		Life: m.counts.Life, RunS: seconds(g.run), Mat: m.therm.model.learnt(),
		Fails: g.doubt.fails, Tries: g.doubt.tries, Spent: g.doubt.spent,
		Image: math.Ceil(g.image*1000) / 1000, WaryS: seconds(g.doubt.wary - g.now), Past: g.doubt.past, Model: m.therm.model.bytes(),
	}
	if g.doubt.phase != heats {
		s.DoubtS = seconds(g.doubt.until - g.now)
		s.Looks = g.doubt.phase == looks
	}
	if s.Mat == nil {
		s.Mat = m.therm.learnt
	}
	s.PhaseS = int(((g.now + g.phase) % m.lim.bucket).Seconds())
	if g.resting {
		s.RestS = seconds(g.restEnd - g.now)
	}
	n := int64(m.lim.buckets)
	for i := n - 1; i >= 0; i-- {
		on := seconds(g.onTime[(g.bucketN+n-i)%n])
		if on > 0 || len(s.OnS) > 0 {
			s.OnS = append(s.OnS, on)
		}
	}
	for _, k := range allFaults() {
		if l, ok := latchOf(k); ok && g.latched&l != 0 {
			s.Latched = append(s.Latched, k)
		}
	}
	return s
}

// Restore takes what Snapshot gave, before the first reading. Away is for how
// long at least nothing ran since: a difference of one clock that does not
// step, such as the one that counts since the board started; 0 where that is
// not known, for a rest is then served in full and no on-time is forgotten.
// Faults are latched again; a name it does not know latches too, for a fault
// from a newer version is still a fault.
func (m *Mat) Restore(s Snapshot, away time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	away = max(away, 0)
	for _, k := range s.Latched {
		if k == FaultNoGain {
			continue // it does not latch any more
		}
		l, ok := latchOf(k)
		if !ok {
			l = latchPanic
		}
		m.g.latched |= l
	}
	m.g.restoreOn(&m.lim, s, away)
	if rest := time.Duration(s.RestS)*time.Second - away; s.RestS > 0 && rest > 0 {
		m.g.resting, m.g.restEnd = true, min(rest, m.lim.Rest)
	}
	m.g.doubt.restore(&m.lim, s, away)
	if s.Life.ok() {
		m.counts.Life = s.Life
	}
	switch {
	case m.therm.model.continues(s.Model, away.Minutes()):
	case s.Mat != nil && s.Mat.ok():
		m.therm.learnt, m.therm.away = s.Mat, away
	}
	m.note(command{})
	m.publish()
}

// restore puts the guard where it was between belief and doubt. An old
// no-gain, which latched, becomes a rest.
func (d *doubt) restore(l *limits, s Snapshot, away time.Duration) {
	d.on = min(time.Duration(max(s.NoGainS, 0))*time.Second, l.GainTime)
	if s.On {
		d.on = min(d.on+saveEvery, l.GainTime)
	}
	d.tries, d.fails, d.spent = max(min(s.Tries, mostTries), 0), max(min(s.Fails, mostFails), 0), s.Spent
	d.past = max(min(s.Past, mostFails), 0)
	if d.wary = min(time.Duration(s.WaryS)*time.Second-away, waryRests*l.DoubtRest); d.wary <= 0 {
		d.wary, d.past = 0, 0
	}
	left := time.Duration(max(s.DoubtS, 0))*time.Second - away
	if s.DoubtS > 0 {
		d.phase, d.until = rests, min(left, l.DoubtRest<<mostFails)
		if s.Looks {
			d.phase, d.until = looks, min(left, l.Look)
		}
	}
	if slices.Contains(s.Latched, FaultNoGain) {
		d.fail(l, 0)
	}
}

// restoreOn puts the on-time of the last day back into its half hours. A mat
// that was on when the snapshot was taken may have stayed on until the next
// one was due, and for a lease.
func (g *guardState) restoreOn(l *limits, s Snapshot, away time.Duration) {
	n := len(s.OnS)
	gone := min(time.Duration(max(s.PhaseS, 0))*time.Second, l.bucket) + away
	g.phase = gone % l.bucket
	for i, sec := range s.OnS {
		back := n - 1 - i + int(gone/l.bucket)
		if back < l.buckets && sec > 0 {
			g.onTime[(l.buckets-back)%l.buckets] += min(time.Duration(sec)*time.Second, l.bucket)
		}
	}
	run := time.Duration(max(s.RunS, 0)) * time.Second
	if s.Image > 0 && s.Image <= 1 {
		g.image = s.Image * math.Exp(-away.Seconds()/imageTime.Seconds())
	}
	if s.On {
		g.image = 1 - (1-g.image)*math.Exp(-(saveEvery+l.Lease).Seconds()/imageTime.Seconds())
		g.onTime[0] += saveEvery + l.Lease
		run += saveEvery + l.Lease
	}
	g.run = min(max(run-time.Duration(l.payBack*float64(away)), 0), l.MaxOn)
}

// saveEvery is how old a snapshot may grow while the mat is on.
const saveEvery = time.Minute

// save hands on a snapshot when what must not be lost has changed.
func (m *Mat) save() {
	if m.lim.Save == nil {
		return
	}
	now := kept{m.g.on || m.g.unknown, m.g.resting, m.g.latched, m.g.doubt.phase}
	if now == m.kept && !(now.on && m.g.now-m.keptAt >= saveEvery) {
		return
	}
	m.kept, m.keptAt = now, m.g.now
	m.lim.Save(m.snapshot())
}

// kept is what a snapshot is taken at once for.
type kept struct {
	on, resting bool
	latched     latch
	doubt       phase
}
