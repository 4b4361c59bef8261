package peak

import (
	"math"
	"slices"
	"time"
)

// lagScale shapes the lag that the network of the call states: asinh(20·lag),
// with the lag over the feed's age.
const lagScale = 20

// climbingZ is how many deviations above zero the speed must be for the rise
// to go on so plainly that the network need not be asked.
const climbingZ = 4.5

// judgeCall calls the peak where it is here and reports whether it did.
func (d *Detector) judgeCall() bool {
	if d.watch != nil {
		return d.watch(d)
	}
	if v, sd := d.trend.speed(); v > climbingZ*sd {
		return false
	}
	lag, here := d.model.judge(&d.curve)
	if !here {
		return false
	}
	at := func(i int) time.Time { return d.clock.time(d.trend.now + math.Sinh(lag[i])/lagScale*d.thermal.age()) }
	f := &d.feed
	f.called = true
	d.say(Event{Kind: EventPeak, PeakAt: at(1), Low: at(0), High: at(2),
		RiseRatio: d.feed.ratio(f.high), RiseMM: f.high - f.base, HeightMM: f.high})
	f.call = d.events[len(d.events)-1]
	d.ahead.has = false
	return true
}

// judge asks the network whether the peak is here, and where it was or will be.
func (m *model) judge(c *curve) (lag [3]float64, here bool) {
	var in [callInputs]float32
	var out [callOuts]float32
	callFeatures(c, &in)
	m.call.Run(in[:], out[:])
	lag = [3]float64{float64(out[callLag]), float64(out[callLag+1]), float64(out[callLag+2])}
	slices.Sort(lag[:])
	return lag, out[callScore] >= m.callLimit(in[callWander])
}

// callLimit is the score from which the peak is called, for the logarithm of
// the wander in tolerances: a sensor that wanders deceives more easily.
func (m *model) callLimit(wander float32) float32 {
	const steady = -2.3 // a tenth of the tolerance
	x := min(max(1-wander/steady, 0), 1)
	return m.limits[limitCall] + x*(m.limits[limitCall+1]-m.limits[limitCall])
}
