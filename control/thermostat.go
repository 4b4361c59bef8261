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

	wish bool
	why  Reason

	bank *bank
	at   time.Duration // until when the bank has lived
	on   bool          // what the mat does since then
	onAt time.Duration // its last on-switch
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
	}
	t.bank.read(c)
}

// update decides the wish for a vessel at c with the setpoint set.
func (t *thermostat) update(now time.Duration, c, set float64) {
	t.live(now, t.on)
	if t.plain || t.bank == nil || set <= 0 {
		t.hysteresis(c, set)
		return
	}
	t.anticipate(now, c, set)
}

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
const hardC = 0.5

// peakC is how far beyond the setpoint a foretold top may lie, °C.
const peakC = 0.35

// anticipate is the law on foretold temperatures. Heat comes in one pulse a
// cycle: it begins when the next cycle without it would be too cold, and ends
// when the rest of the cycle without it will be warm enough.
func (t *thermostat) anticipate(now time.Duration, c, set float64) {
	cycle := t.period(set)
	if t.wish || t.on {
		t.mayEnd(now, cycle, c, set)
		return
	}
	switch {
	case c > set+t.halfC+hardC:
		t.why = ReasonAbove
	case t.bank.need(cycle.Minutes()) >= set:
		t.why = ReasonWithin
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	default:
		t.wish, t.why = true, ReasonAhead
	}
}

// period is the cycle of pulses: as short as the guard allows for a vessel
// that answers fast, up to three times that for one that hardly swings.
func (t *thermostat) period(set float64) time.Duration {
	_, rate := t.bank.ripple(t.cycle.Minutes(), set)
	p := time.Duration(0.8 / rate * float64(time.Minute))
	return min(max(p, t.cycle), 3*t.cycle)
}

// mayEnd decides whether to stop heating.
func (t *thermostat) mayEnd(now, cycle time.Duration, c, set float64) {
	pause := t.minOff
	if t.on {
		pause = max(pause, t.onAt+cycle-now)
	}
	high, mean, surely := t.bank.coast(pause.Minutes())
	half, _ := t.bank.ripple(cycle.Minutes(), set)
	top := max(peakC, min(1.2*half, 0.6)) // a vessel that swings by more cannot be held closer
	switch {
	case c > set+t.halfC+hardC:
		t.wish, t.why = false, ReasonAbove
	case surely >= set && (mean >= set || high >= set+top):
		t.wish, t.why = false, ReasonCoasting
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	default:
		t.wish, t.why = true, ReasonAhead
	}
}

// lost forgets the wish: there is no temperature to go by.
func (t *thermostat) lost() { t.wish, t.why = false, ReasonUnknown }
