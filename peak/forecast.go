package peak

import (
	"math"
	"slices"
	"time"

	"leavend/peak/growth"
)

const (
	// forecastSoft keeps the logarithm of what is left finite at the top.
	forecastSoft = 0.03

	forecastEvery = 7.5 / 60 // hours between two forecast events
	z80           = 1.2816   // half the width of an 80 % interval in deviations

	forecastLook = 1.5 / 60 // hours between two looks ahead

	calmHours = 0.2  // how long the forecast remembers what it was
	driftPart = 0.25 // the share of the feed's age over which its drift is seen
)

// forecaster is the present forecast, and what it was recently. Its times are
// thermal times from the feed to the peak.
type forecaster struct {
	now    Forecast
	has    bool
	toldAt float64    // hours at which it was last told
	calm   [3]float64 // its quantiles, smoothed
	slow   float64    // the logarithm of its median, smoothed over a part of the feed's age
	at     float64    // hours at which both were last renewed; 0 before
}

// Forecast returns the present forecast; false when there are no grounds for
// one, or when the top has been called.
func (d *Detector) Forecast() (Forecast, bool) { return d.ahead.now, d.ahead.has }

// foresee renews the forecast and tells it every ten minutes: by the curve where
// it has risen by half of what a call asks for, and before by past feeds alone.
func (d *Detector) foresee() {
	moves := d.risenBy(minRiseMM / 2)
	switch {
	case !moves && (d.profile.feeds == 0 || d.feed.source == ""):
	case d.watchAhead == nil && d.ahead.has && d.trend.now-d.ahead.at < forecastLook:
	case moves && d.watchAhead != nil:
		d.watchAhead(d, nil)
	case moves:
		q, more := d.model.ahead(&d.curve)
		rise := max(d.feed.high-d.feed.base, 1) * math.Exp(max(more, 0))
		d.foretell(&q, d.model.widths(d.profile.feeds > 0), rise, d.feed.ratio(d.feed.base+rise))
	default:
		q, ok := d.profile.ahead(&d.thermal)
		rise := math.Exp(d.profile.rise)
		switch {
		case !ok:
			d.ahead.has = false // by now it should have risen
		case d.watchAhead != nil:
			d.watchAhead(d, &q)
		default:
			d.foretell(&q, d.model.limits[limitProfile:limitBowl], rise, d.feed.ratio(d.feed.base+rise))
		}
	}
}

// ahead asks the network for quantiles of the logarithm of what is left, and
// for the logarithm of what the rise will grow by.
func (m *model) ahead(c *curve) (q [3]float64, more float64) {
	var in [forecastInputs]float32
	var out [forecastOuts]float32
	forecastFeatures(c, &in)
	m.forecast.Run(in[:], out[:])
	q = [3]float64{float64(out[0]), float64(out[1]), float64(out[2])}
	slices.Sort(q[:])
	return q, float64(out[forecastMore])
}

// foretell states a forecast from three quantiles of the logarithm of what is
// left, and tells it every ten minutes.
func (d *Detector) foretell(q *[3]float64, widths []float32, rise, ratio float64) {
	a, warm := &d.ahead, max(d.thermal.hours, 0.1)
	drift := a.settle(q, d.trend.now, d.trend.now-d.feed.at, warm)
	spread{drift, d.profile.expects(&d.curve).doubt()}.widen(q, widths)
	at := func(i int) time.Time {
		return d.clock.time(d.trend.now + warm*max(math.Exp(q[i])-forecastSoft, 0)/growth.Pace(d.thermal.tempC))
	}
	a.now = Forecast{PeakAt: at(1), Low: at(0), High: at(2), RiseMM: rise, RiseRatio: ratio}
	a.has = true
	if d.trend.now-a.toldAt >= forecastEvery {
		a.toldAt = d.trend.now
		d.say(Event{Kind: EventForecast, PeakAt: a.now.PeakAt, Low: a.now.Low, High: a.now.High, RiseMM: rise, RiseRatio: ratio})
	}
}

// settle draws the forecast towards what it has been recently: the curve's noise
// makes it waver by more than anything new that a minute can tell. It returns
// by how much of its upper half it has moved back over a part of the feed's age.
func (a *forecaster) settle(q *[3]float64, now, age, warm float64) (drift float64) {
	share := -math.Expm1((a.at - now) / calmHours)
	slow := -math.Expm1((a.at - now) / (driftPart * max(age, 0.1)))
	if a.at == 0 {
		share, slow = 1, 1
	}
	for i, v := range q {
		whole := warm * (1 + max(math.Exp(v)-forecastSoft, 0))
		a.calm[i] += (whole - a.calm[i]) * share
		q[i] = logLeft(a.calm[i] / warm)
	}
	a.slow += (math.Log(a.calm[1]) - a.slow) * slow
	a.at = now
	return (math.Log(a.calm[1]) - a.slow) / max(math.Log(a.calm[2]/a.calm[1]), 0.01)
}

// logLeft is the logarithm of what is left when the whole way is the given
// multiple of the way so far, kept finite at the peak.
func logLeft(whole float64) float64 { return math.Log(max(whole-1, 0) + forecastSoft) }
