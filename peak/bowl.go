package peak

import (
	"math"
	"slices"
	"time"
)

// A bowl of dough waits for a target rise and not for a top, which comes much
// later and too late. The target is forecast by a network of its own, which
// learnt from the same kinds of curves with targets on the way up, and called
// when the height has passed it.

// judgeTarget follows a bowl.
func (d *Detector) judgeTarget(h float64) {
	d.ahead.has = false
	f := &d.feed
	if f.target || !d.opts.FloorKnown || f.baseN < baseBins || !(f.base > 0) {
		return
	}
	want := d.feed.wanted(d.opts.TargetRatio)
	if h-f.base < want {
		d.renewTarget()
		return
	}
	f.target = true
	v, _ := d.trend.speed()
	over := 0.0
	if v > 0.5 {
		over = min((h-f.base-want)/v, 0.25)
	}
	at := d.clock.time(d.trend.now - over)
	d.say(Event{Kind: EventTarget, PeakAt: at, Low: at, High: at,
		RiseRatio: d.feed.ratio(h), RiseMM: h - f.base, HeightMM: h})
}

// SetTarget changes the rise that a bowl waits for, while it is not there yet.
func (d *Detector) SetTarget(ratio float64) {
	if d.opts.Kind == Bowl && !d.feed.target && ratio > 1 {
		d.opts.TargetRatio = ratio
	}
}

// Target is the rise that a bowl waits for.
func (d *Detector) Target() float64 { return d.opts.TargetRatio }

// renewTarget forecasts when the bowl stands at its target.
func (d *Detector) renewTarget() {
	if !d.risenBy(minRiseMM/2) || d.thermal.cold() {
		return
	}
	if d.watchAhead != nil {
		d.watchAhead(d, nil)
		return
	}
	var in [bowlInputs]float32
	var out [bowlOuts]float32
	bowlFeatures(&d.curve, &in)
	d.model.bowl.Run(in[:], out[:])
	q := [3]float64{float64(out[0]), float64(out[1]), float64(out[2])}
	slices.Sort(q[:])
	d.foretell(&q, d.model.limits[limitBowl:limitCount], d.feed.wanted(d.opts.TargetRatio), d.opts.TargetRatio)
}

// drawnOn returns the hours until a curve with speed v and acceleration a has
// climbed mm. Half of the acceleration is believed, for it does not last; a
// curve that would turn before is taken to slow down to a third.
func drawnOn(mm, v, a float64) float64 {
	a /= 2
	if math.Abs(a) < 1e-3 {
		return mm / v
	}
	if d := v*v + 2*a*mm; d > v*v/9 {
		return (math.Sqrt(d) - v) / a
	}
	return 2 * mm / (v + v/3) * 1.2
}

// Folded tells the detector that the baker has folded the dough in a bowl.
func (d *Detector) Folded(at time.Time) []Event {
	d.events = d.events[:0]
	if d.opts.Kind != Bowl {
		return d.events
	}
	if _, known := d.folds.Levels(at); !known { // else it was found already
		d.sayFolded(at)
	}
	d.folds.Folded(at)
	return d.events
}

func (d *Detector) sayFolded(at time.Time) {
	h, _ := d.trend.at(0)
	d.say(Event{Kind: EventFolded, PeakAt: at, RiseRatio: d.feed.ratio(h), RiseMM: h - d.feed.base, HeightMM: h})
	d.events[len(d.events)-1].At = at
}
