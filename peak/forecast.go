package peak

import "math"

// outlookQuantiles are what the network of the forecast is asked for.
var outlookQuantiles = [3]float64{0.1, 0.5, 0.9}

const (
	// outlookSoft keeps the logarithm of what is left finite at the top.
	outlookSoft = 0.03

	forecastEvery = 9.5 / 60 // hours between two forecast events
	z80           = 1.2816   // half the width of an 80 % interval in deviations

	calmHours = 0.4  // how long the forecast remembers what it was
	calmWidth = 0.88 // what the calm takes off the interval's width
)

// Forecast returns the present forecast; false when there are no grounds for
// one, or when the top has been called.
func (d *Detector) Forecast() (Forecast, bool) { return d.forecast, d.hasForecast }

// outlook renews the forecast and tells it every ten minutes.
func (d *Detector) outlook() {
	var raw [netOutMax]float64
	outlookNet.run(&d.signs, &raw)
	q := [3]float64{raw[0], raw[1], raw[2]}
	sort3(&q)
	d.heedHabit(&q)
	warm := max(d.warmth.hours, 0.1)
	var top [3]float64 // warm hours from the feed to the peak
	for i, v := range q {
		top[i] = warm * (1 + max(math.Exp(v)-outlookSoft, 0))
	}
	d.calm(&top)
	left := func(i int) float64 { return max(top[i]-warm, 0) / pace(d.warmth.tempC) }
	rise := d.feed.high - d.feed.base
	if d.habit.feeds > 0 {
		rise = max(rise, math.Exp(d.habit.rise))
	}
	d.forecast = Forecast{
		PeakAt: d.clock.time(d.trendAt + left(1)), Low: d.clock.time(d.trendAt + left(0)), High: d.clock.time(d.trendAt + left(2)),
		RiseMM: rise, RiseRatio: d.ratio(d.feed.base + rise)}
	d.hasForecast = true
	if d.trendAt-d.forecastAt >= forecastEvery {
		d.forecastAt = d.trendAt
		d.tellForecast()
	}
}

// calm draws the forecast towards what it has been lately: the curve's noise
// makes it waver by more than anything new that a minute can tell.
func (d *Detector) calm(top *[3]float64) {
	f := &d.feed
	if f.calmAt == 0 {
		f.calm, f.calmAt = top[1], d.trendAt
	}
	f.calm += (top[1] - f.calm) * (1 - math.Exp((f.calmAt-d.trendAt)/calmHours))
	f.calmAt = d.trendAt
	low, high := top[1]-top[0], top[2]-top[1]
	*top = [3]float64{f.calm - calmWidth*low, f.calm, f.calm + calmWidth*high}
}

func (d *Detector) tellForecast() {
	f := d.forecast
	d.say(Event{Kind: EventForecast, PeakAt: f.PeakAt, Low: f.Low, High: f.High, RiseMM: f.RiseMM, RiseRatio: f.RiseRatio})
}

// heedHabit weighs what past feeds say into the quantiles.
func (d *Detector) heedHabit(q *[3]float64) {
	warm := max(d.warmth.hours, 0.1)
	meanTemp := paceTemp(warm / max(d.trendAt-d.feed.at, 0.1))
	mean, sd, ok := d.habit.expect(&d.path, d.noise.ofBin(int(d.noise.perBin+0.5)), meanTemp)
	if !ok {
		return
	}
	y := func(z float64) float64 {
		return math.Log(max(math.Exp(mean+z*sd*habitDoubt)/warm-1, 0) + outlookSoft)
	}
	lo, mid, hi := y(-z80), y(0), y(z80)
	sh, sg := max((hi-lo)/2, 0.02), max((q[2]-q[0])/2, 0.02)
	wh, wg := 1/(sh*sh), 1/(sg*sg)
	m := (wh*mid + wg*q[1]) / (wh + wg)
	s := 1 / math.Sqrt(wh+wg)
	*q = [3]float64{m - s, m, m + s}
}

// habitDoubt widens what the habit believes of itself, for a shape is never
// quite repeated.
const habitDoubt = 1.3

// sort3 puts three numbers in order: quantiles that were learnt apart may
// cross.
func sort3(q *[3]float64) {
	if q[0] > q[1] {
		q[0], q[1] = q[1], q[0]
	}
	if q[1] > q[2] {
		q[1], q[2] = q[2], q[1]
	}
	if q[0] > q[1] {
		q[0], q[1] = q[1], q[0]
	}
}

func (d *Detector) whyNoOutlook() string {
	switch {
	case d.opts.Kind == Bowl && !d.opts.FloorKnown:
		return "the vessel's floor is not known, so there is no ratio; calibrate it"
	case d.opts.Kind == Bowl && d.feed.target:
		return "the target is reached"
	case d.feed.called:
		return "the top has been called"
	case !d.risen():
		return "it has not risen enough"
	}
	if d.cold() {
		return "too cold to tell; it goes on when it is warm again"
	}
	return "the curve has no grounds for one yet"
}
