package peak

import (
	"math"
	"time"
)

// lagScale shapes the lag that the network of the call states: asinh(20·lag),
// with the lag over the hours since the feed.
const lagScale = 20

// climbingZ is how many deviations above zero the speed must be for the rise
// to go on so plainly that the network need not be asked.
const climbingZ = 4.5

// risenBy reports whether the rise is at least so many mm, and more than what
// the sensor's own noise can feign.
func (c *curve) risenBy(mm float64) bool {
	noise := c.noise.wander + 0.1*c.noise.ofBin(int(c.noise.perBin+0.5))
	return c.feed.baseN >= baseBins && c.feed.high-c.feed.base >= max(mm, 3*math.Sqrt(noise), 3*c.noise.ofReading())
}

// judgeCall calls the peak where it is here and reports whether it did.
func (d *Detector) judgeCall() bool {
	if d.watch != nil {
		return d.watch(d)
	}
	v, sd := d.trend.speed()
	if v > climbingZ*sd {
		return false
	}
	var in [callInputs]float32
	var out [callOuts]float32
	d.readCall(&in)
	d.model.call.run(in[:], out[:])
	if out[callScore] < d.model.callLimit(in[callWander]) {
		return false
	}
	d.callPeak([3]float64{float64(out[callLag]), float64(out[callLag+1]), float64(out[callLag+2])})
	return true
}

// callLimit is the score from which the peak is called, for the logarithm of
// the wander in tolerances: a sensor that wanders deceives more easily.
func (m *model) callLimit(wander float32) float32 {
	const steady = -2.3 // a tenth of the tolerance
	x := min(max(1-wander/steady, 0), 1)
	return m.limits[limitCall] + x*(m.limits[limitCall+1]-m.limits[limitCall])
}

// callPeak makes the call; q says where the peak was or will be.
func (d *Detector) callPeak(q [3]float64) {
	sort3(&q)
	hours := max(d.trendAt-d.feed.at, 0.1)
	at := func(i int) time.Time { return d.clock.time(d.trendAt + math.Sinh(q[i])/lagScale*hours) }
	f := &d.feed
	f.called = true
	f.call = Event{Kind: EventPeak, PeakAt: at(1), Low: at(0), High: at(2),
		RiseRatio: d.ratio(f.high), RiseMM: f.high - f.base, HeightMM: f.high}
	d.say(f.call)
	f.call = d.events[len(d.events)-1]
	d.hasForecast = false
}

// whyNoCall says what a call is waiting for.
func (c *curve) whyNoCall() Reason {
	switch {
	case !c.trend.begun || c.feed.baseN < baseBins:
		return FewReadings
	case !c.risenBy(c.opts.MinRiseMM):
		return LittleRise
	case c.cold():
		return TooCold
	}
	return StillRising
}
