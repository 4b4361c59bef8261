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
		d.outlookTarget()
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

// outlookTarget forecasts when the bowl stands at its target.
func (d *Detector) outlookTarget() {
	if !d.moves() || d.cold() {
		return
	}
	if d.watchAhead != nil {
		d.watchAhead(d)
		return
	}
	d.prospect.read(d)
	out := aheadNet{aheadNetBowl}.run(&d.prospect)
	q := [3]float64(out[:3])
	sort3(&q)
	d.foretell(&q, d.wanted(), d.opts.TargetRatio)
}

// wanted is the rise that a bowl waits for, mm.
func (d *Detector) wanted() float64 { return (d.opts.TargetRatio - 1) * d.feed.base }

// readTarget reads how far the target is, and when it comes if the present
// speed and bend go on.
func (s *prospect) readTarget(p *pen, d *Detector, g *gauge) {
	t := &d.trend.tracks[steady]
	want := d.wanted()
	on := 4.0 // of the way so far
	if t.x[1] > 0.05*g.perHour {
		on = min(drawnOn(max(want-g.h, 0), t.x[1], t.x[2])/g.hours, on)
	}
	p.put(math.Log(max(want, 1)/g.most), 1, 3)
	p.put(max(want-g.h, 0)/g.most, 1, 4)
	p.put(logLeft(1+on)+1, 1, 4)
	p.put(math.Log(max(want, 1)/50), 0.5, 3)
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
