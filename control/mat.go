package control

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"
)

// writeLimit is how long one write to the output may take.
const writeLimit = 2 * time.Second

// Mat is a heat mat under control. Its methods may be called from any
// goroutine; State never waits for the output.
type Mat struct {
	out  Output
	view atomic.Pointer[State]

	mu      sync.Mutex // guards everything below
	lim     limits
	g       guardState
	therm   thermostat
	linger  lingerWatch
	names   []string  // of the probes, by index
	epoch   time.Time // the first call's time
	wallNow time.Time // the latest call's time, for showing only
	stage   Stage
	baseC   float64 // the setpoint outside the schedule
	detour  detour  // goes before both while it holds
	reason  Reason
	last    Decision
	faults  map[FaultKind]Fault
	counts  counts
	lastErr error
	likely  string        // what the missing answer comes from, if anything tells
	due     bool          // an order was not carried out yet
	badAt   time.Duration // when a write or its echo last failed
	bad     bool          // and no on has worked since
	kept    kept          // what the last snapshot was taken for
	keptAt  time.Duration
}

// counts are what metrics count.
type counts struct {
	Life
	writeErrors, rejected uint64
}

// New makes a mat that is off, and says so to the output at once. It starts
// no goroutine. An output that cannot be switched off is no reason to fail:
// the mat then reports its output as unknown and keeps trying.
func New(out Output, o Opts) (*Mat, error) {
	o = o.withDefaults()
	for _, err := range []error{o.check(), o.checkSetpoint(o.SetpointC), o.Schedule.check(o)} {
		if err != nil {
			return nil, err
		}
	}
	m := &Mat{
		out: out, lim: newLimits(o), baseC: o.SetpointC,
		therm:  thermostat{halfC: o.HysteresisC, plain: o.Plain, minOff: o.MinOff, cycle: time.Hour / time.Duration(o.OnSwitchesPerHour), matTopC: o.MatCutoffC - 3},
		faults: make(map[FaultKind]Fault),
		reason: ReasonMode,
	}
	m.g.mode, m.g.setpointC = Off, o.SetpointC
	for i, p := range o.Probes {
		m.names = append(m.names, p.Name)
		m.g.probes[i] = probe{place: p.Place, relied: p.Place != AtRoom}
	}
	m.g.unknown = m.write(command{write: true}) != nil
	m.publish()
	return m, nil
}

// Temperature takes a reading in degrees Celsius and decides. The place must
// be the same in every call for one probe.
func (m *Mat) Temperature(now time.Time, name string, place Place, tempC float64) Decision {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	i, ok := m.probe(name, place)
	if !ok {
		m.counts.rejected++
		return m.do(now, event{kind: evTick})
	}
	m.step(now, event{kind: evReading, probe: i, tempC: tempC}, false)
	if p := m.g.probes[i]; !p.has || p.at != m.g.now || p.good == 0 {
		m.counts.rejected++
	} else if c, ok := m.g.vessel(&m.lim); ok && place == AtVessel {
		m.therm.model.roomC, m.therm.model.roomOK = m.g.mean(&m.lim, AtRoom)
		m.therm.learn(m.g.now, c)
	}
	return m.do(now, m.wish())
}

// Failed notes that a probe could not be read. The reading before it stands
// until it is stale. A failure never switches the mat on.
func (m *Mat) Failed(now time.Time, name string, _ error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	for i, n := range m.names {
		if n == name {
			m.do(now, event{kind: evFailed, probe: i})
			return
		}
	}
}

// Tick lets time pass. The guard's own ticker calls it, every lease/3 or more
// often, so that a bus that hangs cannot keep the mat on.
func (m *Mat) Tick(now time.Time) Decision {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	m.step(now, event{kind: evTick}, false)
	m.follow(now)
	return m.do(now, m.wish())
}

// SetMode switches the thermostat on or off. Off is carried out before it
// returns.
func (m *Mat) SetMode(now time.Time, mode Mode) error {
	if mode != Off && mode != Hold {
		return fmt.Errorf("mat: mode %q is not off or hold", mode)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	m.do(now, event{kind: evMode, mode: mode})
	return nil
}

// SetSetpoint changes the temperature to hold, in degrees Celsius, wherever
// the schedule does not say another.
func (m *Mat) SetSetpoint(now time.Time, c float64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	if err := m.lim.checkSetpoint(c); err != nil {
		return err
	}
	m.baseC = c
	m.follow(now)
	m.do(now, m.wish())
	return nil
}

// SetSchedule replaces the schedule. One that is out of range changes nothing.
func (m *Mat) SetSchedule(now time.Time, s Schedule) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	if err := s.check(m.lim.Opts); err != nil {
		return err
	}
	m.lim.Schedule = s
	m.follow(now)
	m.do(now, m.wish())
	return nil
}

// SetStage tells the schedule where the vessel is in its day.
func (m *Mat) SetStage(now time.Time, stage Stage) {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	m.stage = stage
	m.follow(now)
	m.do(now, m.wish())
}

// ErrStillHot says that a cutoff would trip again at once.
var ErrStillHot = errors.New("a probe still reads close to its cutoff; let it cool, then acknowledge again")

// ErrHotUnheard says that it is unknown whether it would.
var ErrHotUnheard = errors.New("a probe was close to its cutoff when it was last heard, and is silent since; see that it answers, then acknowledge again")

// Acknowledge clears the latched faults. It refuses with ErrStillHot while a
// probe reads close to its cutoff, and with ErrHotUnheard when one did so last
// and is silent. Heat comes back only after good readings in a row.
func (m *Mat) Acknowledge(now time.Time) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	m.do(now, event{kind: evAck})
	switch {
	case m.g.latched == 0:
		m.therm.model.contact = 0
		return nil
	case m.g.tooHotToAck(&m.lim, m.lim.Stale):
		return ErrStillHot
	}
	return ErrHotUnheard
}

// State returns what is known, without waiting for anything.
func (m *Mat) State() State {
	s := *m.view.Load()
	s.Faults = append([]Fault(nil), s.Faults...)
	return s
}

// Close switches the mat off for good. It returns the error of the output
// when that did not succeed.
func (m *Mat) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.step(m.wallNow, event{kind: evClose}, true)
	m.save()
	if m.g.unknown {
		return fmt.Errorf("mat: switch off at the end: %w", m.lastErr)
	}
	return nil
}

// OffOnPanic is deferred at the top of every goroutine of the daemon: when
// the goroutine panics, the mat goes off before the panic goes on.
func (m *Mat) OffOnPanic() {
	if r := recover(); r != nil {
		m.letGo()
		if m.mu.TryLock() { // else whoever holds it decides nothing more before the process ends
			m.g.latched |= latchPanic
			m.save()
			m.mu.Unlock()
		}
		panic(r)
	}
}

// onPanic is the same for a panic under the mat's own lock.
func (m *Mat) onPanic() {
	if r := recover(); r != nil {
		m.letGo()
		m.g.latched |= latchPanic
		m.save()
		panic(r)
	}
}

// letGo switches off without asking the guard.
func (m *Mat) letGo() {
	ctx, cancel := context.WithTimeout(context.Background(), writeLimit)
	defer cancel()
	_ = m.out.Off(ctx) // The panic that follows says more than an error could.
}

// probe returns the index of a probe, adding it on its first reading.
func (m *Mat) probe(name string, place Place) (int, bool) {
	for i, n := range m.names {
		if n == name {
			return i, m.g.probes[i].place == place
		}
	}
	if !place.Valid() || len(m.names) == maxProbes {
		return 0, false
	}
	i := len(m.names)
	m.names = append(m.names, name)
	m.g.probes[i] = probe{place: place, relied: place != AtRoom}
	return i, true
}

// follow applies the schedule, and a course before it.
func (m *Mat) follow(now time.Time) {
	c := m.baseC
	if s, ok := m.lim.Schedule.At(now.In(m.lim.Location), m.stage); ok {
		c = s
	}
	if s, ok := m.detour.asks(m.since(now)); ok {
		c = s
	}
	if c != m.g.setpointC {
		m.step(now, event{kind: evSetpoint, setpointC: c}, false)
	}
}

// wish asks the thermostat.
func (m *Mat) wish() event {
	c, ok := m.g.vessel(&m.lim)
	m.therm.matC, m.therm.matOK = m.g.mean(&m.lim, AtMat)
	if !ok {
		m.therm.lost()
	} else {
		m.therm.update(m.g.now, c, m.g.setpointC)
	}
	return event{kind: evWish, wish: m.therm.wish, said: m.evidence(ok)}
}

// evidence is what the model says.
func (m *Mat) evidence(ok bool) evidence {
	if !ok {
		return 0
	}
	return m.therm.model.evidence(m.g.setpointC, m.g.doubt.spent, m.g.doubt.on.Minutes())
}

// do makes a step and reports the decision.
func (m *Mat) do(now time.Time, e event) Decision {
	c := m.step(now, e, true)
	d := Decision{At: now, On: c.on, Lease: c.lease, Reason: m.reason}
	d.Changed = d.On != m.last.On || d.Reason != m.last.Reason
	m.last = d
	m.publish()
	m.save()
	return d
}

// step runs the guard and carries out what it orders, unless another step
// follows at once: an output that hangs must cost a decision one write only.
// What was wished before switches nothing on then, for it is asked again.
func (m *Mat) step(now time.Time, e event, last bool) command {
	at := m.since(now)
	if chk, ok := m.out.(Checker); ok && !m.g.unknown {
		if err := chk.Check(now); err != nil {
			m.lastErr, m.badAt = err, at
			m.bad = m.bad || !m.starting()
			m.g, _ = step(&m.lim, m.g, event{kind: evWriteFailed}, at)
		}
	}
	wasOn := m.g.on
	before := m.g.now
	m.g.wish = m.g.wish && (last || wasOn)
	var c command
	was := m.g.doubt
	m.g, c = step(&m.lim, m.g, e, at)
	if m.g.doubt.phase == looks && was.phase == heats {
		m.therm.model.contact = min(m.therm.model.contact, 0) // the look that begins is judged by itself
	}
	if m.g.doubt.phase == rests && was.phase != rests && was.fails == 0 {
		m.likely = m.therm.model.likely(m.g.setpointC)
	}
	if wasOn {
		m.counts.On += m.g.now - before
	}
	m.due = m.due || c.write
	if m.due && last {
		m.due = false
		c = m.carryOut(c, now, at)
	}
	if m.g.on && !wasOn {
		m.counts.Switches++
	}
	m.therm.live(m.g.now, m.g.on || m.g.unknown)
	m.linger.look(&m.lim, &m.g)
	m.reason = m.because(c)
	m.note(c)
	return c
}

// because is why the mat is on or off: the reason that decides. A pause that
// holds back nothing, for the thermostat would not heat anyway, is none.
func (m *Mat) because(c command) Reason {
	switch {
	case c.reason == "" || c.reason.pause() && !m.therm.wish:
		return m.therm.why
	case c.reason == ReasonOutput && m.starting():
		return ReasonStarting
	}
	return c.reason
}

// carryOut writes a command and tells the guard how it went. When an on fails
// the guard orders again; the second answer is always off.
func (m *Mat) carryOut(c command, now time.Time, at time.Duration) command {
	for range 2 {
		err := m.write(c)
		if chk, ok := m.out.(Checker); ok && err == nil && m.g.unknown {
			err = chk.Check(now)
		}
		if err == nil {
			// What was never heard of is not known to be off.
			if m.g.unknown && !m.starting() {
				m.g, _ = step(&m.lim, m.g, event{kind: evWrote}, at)
			}
			m.bad = m.bad && !c.on
			return c
		}
		m.badAt = at
		m.bad = m.bad || !m.starting()
		wasOn := c.on
		m.g, c = step(&m.lim, m.g, event{kind: evWriteFailed}, at)
		if !wasOn {
			return c
		}
	}
	return c
}

// write tells the output. An error is counted and kept for the fault's text.
func (m *Mat) write(c command) error {
	ctx, cancel := context.WithTimeout(context.Background(), writeLimit)
	defer cancel()
	var err error
	if c.on {
		err = m.out.On(ctx, c.lease)
	} else {
		err = m.out.Off(ctx)
	}
	if err != nil {
		m.counts.writeErrors++
		m.lastErr = err
	}
	return err
}

// since converts a time of this process to the guard's own.
func (m *Mat) since(now time.Time) time.Duration {
	if m.epoch.IsZero() {
		m.epoch = now
	}
	if !now.IsZero() {
		m.wallNow = now
	}
	d := now.Sub(m.epoch)
	if d < m.g.now-backwards {
		// Only a time without its monotonic part can be so old. The guard's time
		// must go on all the same, or a lease would never end.
		m.epoch, d = now.Add(-m.g.now), m.g.now
	}
	return max(d, m.g.now)
}

// backwards is how far two goroutines' times may be out of order.
const backwards = 10 * time.Second
