package peak

import "math"

// A bowl of dough waits for a target rise and not for a top, which comes much
// later and too late. The target is forecast by a network of its own, which
// learnt from the same kinds of curves with targets on the way up, and called
// when the height has passed it.

// judgeTarget follows a bowl.
func (d *Detector) judgeTarget(h float64) {
	d.hasForecast = false
	f := &d.feed
	if f.target || !d.opts.FloorKnown || f.baseN < baseBins || !(f.base > 0) {
		return
	}
	want := d.wanted()
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
	at := d.clock.time(d.trendAt - over)
	d.say(Event{Kind: EventTarget, PeakAt: at, Low: at, High: at,
		RiseRatio: d.ratio(h), RiseMM: h - f.base, HeightMM: h})
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
	if !d.moves() || d.cold() {
		return
	}
	if d.watchAhead != nil {
		d.watchAhead(d)
		return
	}
	var in [bowlInputs]float32
	var out [bowlOuts]float32
	d.readBowl(&in)
	d.model.bowl.run(in[:], out[:])
	q := [3]float64{float64(out[0]), float64(out[1]), float64(out[2])}
	sort3(&q)
	d.foretell(&q, d.wanted(), d.opts.TargetRatio)
}

// wanted is the rise that a bowl waits for, mm.
func (c *curve) wanted() float64 { return (c.opts.TargetRatio - 1) * c.feed.base }

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
