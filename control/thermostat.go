package control

import (
	"math"
	"time"
)

// thermostat says what it would like; it never switches anything.
//
// Heat comes in pulses, one a window, as wide as the model says: what the
// vessel loses at its setpoint, and what brings it there within a few delays.
// The heat that is still on its way is counted as given. With Plain it is a
// hysteresis around the setpoint instead.
type thermostat struct {
	halfC  float64       // half width of the band of the plain hysteresis
	minOff time.Duration // the guard's pauses, which a forecast must bridge
	cycle  time.Duration
	plain  bool

	matTopC float64 // the inner loop keeps the mat's surface below this

	wish bool
	why  Reason

	matC    float64 // the mat's surface, if a probe tells
	matOK   bool
	matWarm bool // the inner loop pauses the heat

	model  model
	learnt *Learnt       // from before a restart, until the first reading
	away   time.Duration // and how long that was ago
	at     time.Duration // until when the model has lived
	on     bool          // what the mat does since then
	onAt   time.Duration // the beginning of the present pulse's window
	spread float64       // how much longer than the shortest it is, 0 to 1
	planAt time.Duration // the last plan
	paused bool          // on the way to the setpoint
}

// live tells what the mat does from now on; until now it did what was told
// before.
func (t *thermostat) live(now time.Duration, on bool) {
	if now > t.at {
		t.model.pass((now - t.at).Minutes())
	}
	switch {
	case on && !t.on:
		t.begin(now)
	case !on && t.on && t.wish:
		t.onAt = 0 // the guard cut the pulse short: no pause is owed
	}
	t.at, t.on = now, on
	t.model.switched(on)
}

// learn takes a vessel reading.
func (t *thermostat) learn(now time.Duration, c float64) {
	t.live(now, t.on)
	begins := !t.model.begun
	t.model.read(c)
	if begins && t.learnt != nil {
		t.model.recall(*t.learnt, c, t.away.Minutes())
		t.learnt = nil
	}
}

// update decides the wish for a vessel at c with the setpoint set.
func (t *thermostat) update(now time.Duration, c, set float64) {
	t.live(now, t.on)
	switch {
	case set <= 0:
		t.wish, t.why = false, ReasonAbove
	case t.plain || !t.model.begun:
		t.hysteresis(c, set)
	default:
		t.pulse(now, c, set)
	}
	t.cascade(max(t.matTopC, set+1))
}

// cascade is the inner loop: where a probe lies on the mat, its surface is
// kept well below its cutoff, by 3 °C and a band of 2 (guesses), so that a strong
// mat under a thick board pauses where it would otherwise trip.
func (t *thermostat) cascade(top float64) {
	switch {
	case !t.matOK:
		t.matWarm = false
	case t.matC >= top:
		t.matWarm = true
	case t.matC < top-2:
		t.matWarm = false
	}
	if t.matWarm && t.wish {
		t.wish, t.why = false, ReasonMatWarm
	}
}

// hysteresis is the plain law.
func (t *thermostat) hysteresis(c, set float64) {
	switch {
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	case c > set+t.halfC:
		t.wish, t.why = false, ReasonAbove
	case !t.wish:
		t.why = ReasonWithin
	}
}

// rippleC is how far a pulse may move the vessel, and shortestPulse how long
// one lasts at least (guesses: half of the half degree that is asked for, and
// what a relay and a mat's own heat make worth switching).
const (
	rippleC       = nearC / 2
	shortestPulse = time.Minute
)

// pulse is the law.
func (t *thermostat) pulse(now time.Duration, c, set float64) {
	heating := t.wish || t.on
	gone := 0.0
	if heating && t.on {
		gone = (now - t.onAt).Minutes()
	}
	if c >= set-nearC {
		t.model.arrive()
	}
	p := t.model.plan(set, gone, t.cycle.Minutes(), t.spread)
	t.model.offset = clamp(t.model.offset+p.offset*(now-t.planAt).Minutes(), -mostOffset, mostOffset)
	t.planAt = now
	window := time.Duration(p.window * float64(time.Minute))
	if heating && t.on && now-t.onAt >= window {
		t.begin(now) // the pulse fills its window
		gone = 0
	}
	wide := p.share * p.window
	switch {
	case heating && t.on && t.pauses(c, set):
		t.paused = true
		t.onAt = now - window*2/3
		t.wish, t.why = false, ReasonCoasting
	case heating && t.on && (p.window-gone < t.minOff.Minutes() && p.share > 0.5 || gone < wide):
		t.wish, t.why = true, ReasonAhead
	case heating && t.on:
		t.wish, t.why = false, ReasonCoasting
	case wide < shortestPulse.Minutes():
		t.wish, t.why = false, ReasonWithin
	case t.at > 0 && now-t.onAt < window && t.onAt > 0:
		t.wish, t.why = false, ReasonWithin
	default:
		t.wish, t.why = true, ReasonAhead
	}
	t.explain(c, set)
}

// explain says what the reading shows by itself, where it does.
func (t *thermostat) explain(c, set float64) {
	switch {
	case t.wish && c < set-t.halfC:
		t.why = ReasonBelow
	case !t.wish && c > set+t.halfC:
		t.why = ReasonAbove
	}
}

// pauses reports whether it is time for the one pause on the way to the first
// setpoint. While heat goes on without a break, what it gives cannot be told from
// what cold contents and the room take; in a pause of a third of a window it can.
func (t *thermostat) pauses(c, set float64) bool {
	return !t.paused && t.model.need.since == 0 && t.model.rated >= halfHour && c >= set-farC
}

// begin begins a pulse.
func (t *thermostat) begin(now time.Duration) {
	t.onAt = now
	_, t.spread = math.Modf(t.spread + golden)
}

// Pulses at even intervals cannot be told from a radiator's rhythm, and their
// delay not from the same plus an interval. So the intervals differ, by a share
// that no number of pulses repeats: the golden section's (Weyl's sequence), of
// three tenths at most (guess).
const golden, unevenness = 0.6180339887, 0.3

// expect is where full power would level off, once enough heat was seen to
// tell; far reports that this is short of the setpoint.
func (t *thermostat) expect(set float64) (c float64, far, ok bool) {
	if t.plain || !t.model.known() {
		return 0, false, false
	}
	c = t.model.levelsOff()
	return c, t.on && c < set-nearC, true
}

// lost forgets the wish: there is no temperature to go by.
func (t *thermostat) lost() { t.wish, t.why, t.onAt = false, ReasonUnknown, 0 }
