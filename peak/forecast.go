package peak

import (
	"math"
	"time"
)

// outlookQuantiles are what the network of the forecast is asked for.
var outlookQuantiles = [3]float64{0.1, 0.5, 0.9}

const (
	// outlookSoft keeps the logarithm of what is left finite at the top.
	outlookSoft = 0.03

	forecastEvery = 9.5 / 60 // hours between two forecast events
	z80           = 1.2816   // half the width of an 80 % interval in deviations

	// aheadNarrow draws the interval together. As it was learnt it held 79 % of
	// the tops of the simulated kitchen and 88 % of those of the families of
	// this package's tests; so it stands a few points to either side of 80.
	aheadNarrow = 0.92

	// aheadFirst is how much the network that attends to the later half of the
	// way counts where nothing is known of the starter. More of it brings the
	// forecast nearer at 62 and 80 % of the way and makes it worse before half
	// of it; chosen on curves of this package's families and of the simulated
	// kitchen. A known starter has no need of it.
	aheadFirst = 0.4

	calmHours = 0.2 // how long the forecast remembers what it was
)

// Forecast returns the present forecast; false when there are no grounds for
// one, or when the top has been called.
func (d *Detector) Forecast() (Forecast, bool) { return d.forecast, d.hasForecast }

// moves reports whether the curve has risen by enough to say how it goes on:
// half of what a call asks for.
func (d *Detector) moves() bool {
	rise := d.feed.high - d.feed.base
	return d.feed.baseN >= baseBins && rise >= max(d.opts.MinRiseMM/2, 4*math.Sqrt(d.noise.ofBin(1)))
}

// outlook renews the forecast and tells it every ten minutes.
func (d *Detector) outlook() {
	if d.watchAhead != nil {
		d.watchAhead(d)
		return
	}
	d.prospect.read(d)
	q, more := askAhead(&d.prospect, d.habit.feeds == 0)
	rise := max(d.feed.high-d.feed.base, 1) * math.Exp(max(more, 0))
	d.foretell(&q, rise, d.ratio(d.feed.base+rise))
}

// foretell states a forecast from three quantiles of the logarithm of what is
// left, and tells it every ten minutes.
func (d *Detector) foretell(q *[3]float64, rise, ratio float64) {
	warm := max(d.warmth.hours, 0.1)
	var whole [3]float64 // warm hours from the feed to the peak
	for i, v := range q {
		whole[i] = warm * (1 + max(math.Exp(v)-outlookSoft, 0))
	}
	d.calm(&whole)
	at := func(i int) time.Time {
		return d.clock.time(d.trendAt + max(whole[i]-warm, 0)/pace(d.warmth.tempC))
	}
	d.forecast = Forecast{PeakAt: at(1), Low: at(0), High: at(2), RiseMM: rise, RiseRatio: ratio}
	d.hasForecast = true
	if d.trendAt-d.forecastAt >= forecastEvery {
		d.forecastAt = d.trendAt
		d.tellForecast()
	}
}

// calm draws the forecast towards what it has been lately: the curve's noise
// makes it waver by more than anything new that a minute can tell.
func (d *Detector) calm(whole *[3]float64) {
	f := &d.feed
	if f.calmAt == 0 {
		f.calm, f.calmAt = *whole, d.trendAt
	}
	share := 1 - math.Exp((f.calmAt-d.trendAt)/calmHours)
	for i, v := range whole {
		f.calm[i] += (v - f.calm[i]) * share
	}
	f.calmAt = d.trendAt
	*whole = f.calm
}

func (d *Detector) tellForecast() {
	f := d.forecast
	d.say(Event{Kind: EventForecast, PeakAt: f.PeakAt, Low: f.Low, High: f.High, RiseMM: f.RiseMM, RiseRatio: f.RiseRatio})
}

// askAhead asks the networks of the forecast, which learnt apart, and averages
// what they say: quantiles of the logarithm of what is left, and the logarithm
// of what is still to rise. One more network has a say in the first forecast
// of a starter.
func askAhead(s *prospect, first bool) (q [3]float64, more float64) {
	for _, w := range [...][]float32{aheadNetA, aheadNetB, aheadNetC} {
		out := aheadNet{w}.run(s)
		for i := range q {
			q[i] += out[i] / 3
		}
		more += out[aheadMore] / 3
	}
	if first {
		out := aheadNet{aheadNetD}.run(s)
		for i := range q {
			q[i] += aheadFirst * (out[i] - q[i])
		}
	}
	sort3(&q)
	q[0] = q[1] - aheadNarrow*(q[1]-q[0])
	q[2] = q[1] + aheadNarrow*(q[2]-q[1])
	return q, more
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
