package peak

import "math"

// A bowl of dough waits for a target rise and not for a top, which comes much
// later and too late. The target is forecast by drawing the curve on, and
// called when the height has passed it.

const (
	targetFrom  = 0.25 // share of the target rise from which it is forecast
	targetDoubt = 0.18 // 80 % interval of what is left, as a share, besides the speed's own error
	targetLate  = 12   // hours ahead beyond which nothing is said
)

// judgeTarget follows a bowl.
func (d *Detector) judgeTarget(h float64) {
	d.hasForecast = false
	f := &d.feed
	if f.target || !d.opts.FloorKnown || f.baseN < baseBins || !(f.base > 0) {
		return
	}
	want := (d.opts.TargetRatio - 1) * f.base
	if h-f.base < want {
		d.outlookTarget(h-f.base, want)
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

// outlookTarget forecasts when the rise will reach want mm.
func (d *Detector) outlookTarget(rise, want float64) {
	t := &d.trend.tracks[steady]
	v, sd := t.x[1], math.Sqrt(t.p[3])
	if rise < targetFrom*want || v < 2*sd || v < 0.3 || d.cold() {
		return
	}
	left := drawnOn(want-rise, v, t.x[2])
	if left > targetLate {
		return
	}
	// The fan: the speed's own error, and that curves bend.
	wide := left * math.Hypot(targetDoubt, z80*sd/v)
	now := d.trendAt
	d.forecast = Forecast{PeakAt: d.clock.time(now + left), Low: d.clock.time(now + max(left-wide, 0)), High: d.clock.time(now + left + 1.3*wide),
		RiseMM: want, RiseRatio: d.opts.TargetRatio}
	d.hasForecast = true
	if now-d.forecastAt >= forecastEvery {
		d.forecastAt = now
		d.tellForecast()
	}
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
