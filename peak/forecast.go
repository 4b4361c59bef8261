package peak

import (
	"math"
	"time"
)

// forecastQuantiles are what the network of the forecast is asked for.
var forecastQuantiles = [3]float64{0.1, 0.5, 0.9}

const (
	// forecastSoft keeps the logarithm of what is left finite at the top.
	forecastSoft = 0.03

	forecastEvery = 7.5 / 60 // hours between two forecast events
	z80           = 1.2816   // half the width of an 80 % interval in deviations

	forecastLook = 1.5 / 60 // hours between two looks ahead

	calmHours = 0.2 // how long the forecast remembers what it was
)

// Forecast returns the present forecast; false when there are no grounds for
// one, or when the top has been called.
func (d *Detector) Forecast() (Forecast, bool) { return d.forecast, d.hasForecast }

// moves reports whether the curve has risen by enough to say how it goes on:
// half of what a call asks for.
func (c *curve) moves() bool {
	return c.risenBy(c.opts.MinRiseMM / 2)
}

// renewForecast renews the forecast and tells it every ten minutes.
func (d *Detector) renewForecast() {
	if d.watchAhead != nil {
		d.watchAhead(d)
		return
	}
	if d.hasForecast && d.trendAt-d.feed.calmAt < forecastLook {
		return
	}
	var in [forecastInputs]float32
	var out [forecastOuts]float32
	d.readForecast(&in)
	d.model.forecast.run(in[:], out[:])
	q := [3]float64{float64(out[0]), float64(out[1]), float64(out[2])}
	sort3(&q)
	d.model.widen(&q)
	rise := max(d.feed.high-d.feed.base, 1) * math.Exp(max(float64(out[forecastMore]), 0))
	d.foretell(&q, rise, d.ratio(d.feed.base+rise))
}

// foretellProfile forecasts from past feeds alone, before the curve has moved.
func (d *Detector) foretellProfile() {
	b := &d.profile
	if b.feeds == 0 || d.feed.source == "" || d.watchAhead != nil || d.hasForecast && d.trendAt-d.feed.calmAt < forecastLook {
		return
	}
	total := b.warm + b.perDeg*(min(max(d.thermal.tempC, b.tempC-8), b.tempC+8)-b.tempC)
	if b.tempC == 0 || math.IsNaN(d.thermal.tempC) {
		total = b.warm
	}
	warm := max(d.thermal.hours, 0.1)
	if warm > 0.6*math.Exp(total) {
		d.hasForecast = false // by now it should have risen
		return
	}
	var q [3]float64
	for i, z := range [...]float64{-z80, 0, z80} {
		q[i] = logLeft(math.Exp(total+profileDoubt*z*b.warmSD) / warm)
	}
	rise := math.Exp(b.rise)
	d.foretell(&q, rise, d.ratio(d.feed.base+rise))
}

// profileDoubt widens what past feeds expect of the next: few of them know
// little of how much they differ.
const profileDoubt = 1.3

// widenStages are the shares of the way, as the forecast itself sees it, at
// which the interval's halves have factors of their own. They are chosen so
// that the interval holds the peak as often as it says, on kinds of curves that
// were not learnt from.
const widenStages = 5

// widen draws the interval to its honest width.
func (m *model) widen(q *[3]float64) {
	i, f := widenAt(q[1])
	at := func(first int) float64 {
		l := m.limits[first:]
		return float64(l[i]) + f*float64(l[i+1]-l[i])
	}
	q[0] = q[1] - at(limitLow)*(q[1]-q[0])
	q[2] = q[1] + at(limitHigh)*(q[2]-q[1])
}

// widenAt returns between which stages a forecast lies, and how far.
func widenAt(median float64) (i int, f float64) {
	way := 1 / (1 + max(math.Exp(median)-forecastSoft, 0))
	x := min(max((way-0.2)/0.7, 0), 0.9999) * (widenStages - 1)
	return int(x), x - math.Floor(x)
}

// foretell states a forecast from three quantiles of the logarithm of what is
// left, and tells it every ten minutes.
func (d *Detector) foretell(q *[3]float64, rise, ratio float64) {
	warm := max(d.thermal.hours, 0.1)
	var whole [3]float64 // warm hours from the feed to the peak
	for i, v := range q {
		whole[i] = warm * (1 + max(math.Exp(v)-forecastSoft, 0))
	}
	d.calm(&whole)
	at := func(i int) time.Time {
		return d.clock.time(d.trendAt + max(whole[i]-warm, 0)/pace(d.thermal.tempC))
	}
	d.forecast = Forecast{PeakAt: at(1), Low: at(0), High: at(2), RiseMM: rise, RiseRatio: ratio}
	d.hasForecast = true
	if d.trendAt-d.forecastAt >= forecastEvery {
		d.forecastAt = d.trendAt
		f := d.forecast
		d.say(Event{Kind: EventForecast, PeakAt: f.PeakAt, Low: f.Low, High: f.High, RiseMM: f.RiseMM, RiseRatio: f.RiseRatio})
	}
}

// calm draws the forecast towards what it has been lately: the curve's noise
// makes it waver by more than anything new that a minute can tell.
func (c *curve) calm(whole *[3]float64) {
	f := &c.feed
	if f.calmAt == 0 {
		f.calm, f.calmAt = *whole, c.trendAt
	}
	share := 1 - math.Exp((f.calmAt-c.trendAt)/calmHours)
	for i, v := range whole {
		f.calm[i] += (v - f.calm[i]) * share
	}
	f.calmAt = c.trendAt
	*whole = f.calm
}

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

// whyNoForecast says what a forecast is waiting for.
func (c *curve) whyNoForecast() Reason {
	switch {
	case c.opts.Kind == Bowl && !c.opts.FloorKnown:
		return FloorUnknown
	case c.opts.Kind == Bowl && c.feed.target:
		return TargetReached
	case c.feed.called:
		return PeakCalled
	case c.cold():
		return TooCold
	case !c.risenBy(c.opts.MinRiseMM):
		return LittleRise
	}
	return NoGrounds
}
