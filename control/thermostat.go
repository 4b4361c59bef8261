package control

import (
	"time"
)

// thermostat says what it would like; it never switches anything.
//
// Hysteresis is its law: below the band on, above it off. Anticipation bends
// the law in two places, once enough was learnt: off early, when the heat on
// its way will bring the vessel to its setpoint, and on early, when the vessel
// will have cooled below it by the time that new heat arrives.
type thermostat struct {
	halfC  float64       // half width of the band
	minOff time.Duration // the guard's pauses, which a forecast must bridge
	cycle  time.Duration
	plain  bool // no anticipation

	matTopC float64 // the inner loop keeps the mat's surface below this

	wish bool
	why  Reason

	matC    float64 // the mat's surface, if a probe tells
	matOK   bool
	matWarm bool // the inner loop pauses the heat

	learnt Learnt // from before a restart
	bank   *bank
	at     time.Duration // until when the bank has lived
	on     bool          // what the mat does since then
	onAt   time.Duration // its last on-switch

	aimC    float64 // what is added to the setpoint so that the mean, not the foretold mean, meets it
	aimAt   time.Duration
	arrived bool // at this setpoint, some time
	set     float64
}

// live tells what the mat does from now on; until now it did what was told
// before.
func (t *thermostat) live(now time.Duration, on bool) {
	if t.bank != nil && now > t.at {
		t.bank.pass((now - t.at).Minutes(), t.on)
	}
	if on && !t.on {
		t.onAt = now
	}
	t.at, t.on = now, on
}

// learn takes a vessel reading.
func (t *thermostat) learn(now time.Duration, c float64) {
	t.live(now, t.on)
	if t.plain {
		return
	}
	if t.bank == nil {
		t.bank = newBank(c)
		t.bank.recall(t.learnt)
	}
	t.bank.read(c)
}

// update decides the wish for a vessel at c with the setpoint set.
func (t *thermostat) update(now time.Duration, c, set float64) {
	t.live(now, t.on)
	if t.plain || t.bank == nil || set <= 0 {
		t.hysteresis(c, set)
	} else {
		t.aim(now, c, set)
		t.anticipate(now, c, set+t.aimC)
	}
	t.cascade(max(t.matTopC, set+1))
}

// cascade is the inner loop: where a probe lies on the mat, its surface is
// kept well below its cutoff, so that a strong mat under a thick board pauses
// where it would otherwise trip.
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

// expect is where full power would level off, once enough heat was seen to
// tell; far reports that this is short of the setpoint.
func (t *thermostat) expect(set float64) (c float64, far, ok bool) {
	if t.bank == nil || t.bank.onMin < expectMinutes {
		return 0, false, false
	}
	c = t.bank.ceiling()
	return c, t.on && !t.bank.hold && c < set-0.5, true
}

// expectMinutes is the on-time before a forecast of the level-off is worth
// telling.
const expectMinutes = 60

// aim corrects slowly what the forecasts get wrong on the whole.
func (t *thermostat) aim(now time.Duration, c, set float64) {
	took := min((now - t.aimAt).Minutes(), 1)
	t.aimAt = now
	if set != t.set {
		t.set, t.arrived = set, false
	}
	t.arrived = t.arrived || !t.on && c >= set-0.3 && c <= set+1
	near := c > set-1.5 && c < set+1.5
	if c < set-1.5 {
		t.arrived = false // fed, or long without heat: it arrives anew
	}
	t.bank.hold = t.arrived && near
	if t.bank.hold {
		t.aimC += (set - c) * took / aimMinutes
		t.aimC = min(max(t.aimC, -0.4), 0.4)
	}
}

// aimMinutes is how slowly: slower than any cycle of pulses.
const aimMinutes = 60

// hysteresis is the law.
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

// hardC is how far beyond the band a measured temperature overrules every
// forecast, °C.
const hardC = 0.7

// peakC is how far beyond the setpoint the foretold top of a first arrival may
// lie, and farC any top, °C.
const (
	peakC = 0.25
	farC  = 1.0
)

// anticipate is the law on foretold temperatures. Heat comes in one pulse a
// cycle: it begins when a cycle without it would end too cold, and ends when
// the rest of the cycle without it will end as a steady hold would.
func (t *thermostat) anticipate(now time.Duration, c, set float64) {
	cycle := t.period()
	if t.wish || t.on {
		t.mayEnd(now, cycle, c, set)
		return
	}
	o := t.bank.ahead(cycle.Minutes(), cycle.Minutes(), set)
	switch {
	case c > set+t.halfC+hardC || o.high > set+farC:
		t.why = ReasonAbove
	case o.surplus >= -0.03:
		t.why = ReasonWithin
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	default:
		t.wish, t.why = true, ReasonAhead
	}
}

// period is the cycle of pulses: as short as the guard allows for a vessel
// that answers fast, up to three times that for one that hardly swings.
func (t *thermostat) period() time.Duration {
	p := time.Duration(0.8 / t.bank.rate() * float64(time.Minute))
	return min(max(p, t.cycle), 3*t.cycle)
}

// mayEnd decides whether to stop heating.
func (t *thermostat) mayEnd(now, cycle time.Duration, c, set float64) {
	pause := t.minOff
	if t.on {
		pause = max(pause, t.onAt+cycle-now)
	}
	o := t.bank.ahead(pause.Minutes(), cycle.Minutes(), set)
	switch {
	case c > set+t.halfC+hardC:
		t.wish, t.why = false, ReasonAbove
	case o.surely >= set && (o.surplus >= 0 || !t.arrived && o.high >= set+peakC || o.high > set+farC):
		t.wish, t.why = false, ReasonCoasting
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	default:
		t.wish, t.why = true, ReasonAhead
	}
}

// lost forgets the wish: there is no temperature to go by.
func (t *thermostat) lost() { t.wish, t.why = false, ReasonUnknown }
