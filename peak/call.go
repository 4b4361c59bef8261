package peak

import (
	"math"
	"slices"
	"time"
)

// lagScale shapes the lag that the network of the call states: asinh(20·lag),
// with the lag over the feed's age.
const lagScale = 20

// climbingZ is how many deviations above zero the speed of a plain rise is.
const climbingZ = 4.5

// climbs reports whether it rises so plainly that the network need not be asked.
func (c *curve) climbs() bool {
	v, sd := c.trend.speed()
	return v > climbingZ*sd
}

// judgeCall calls the peak where it is here and reports whether it did.
func (d *Detector) judgeCall() bool {
	if d.watch != nil {
		return d.watch(d)
	}
	if d.climbs() {
		d.feed.score = meanScore{}
		return false
	}
	lag, score, wander := d.model.judge(&d.curve)
	if !d.model.calls(&d.feed.score, score, wander, d.trend.now) {
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

// judge asks the network how much better a call now is than waiting, and where the
// peak was or will be. It returns the feature of the wander too.
func (m *model) judge(c *curve) (lag [3]float64, score, wander float32) {
	var in [callInputs]float32
	var out [callOuts]float32
	callFeatures(c, &in)
	m.call.Run(in[:], out[:])
	lag = [3]float64{float64(out[callLag]), float64(out[callLag+1]), float64(out[callLag+2])}
	slices.Sort(lag[:])
	return lag, out[callScore], in[callWander]
}

// meanScore is the score of the call, averaged over the last minutes.
type meanScore struct {
	mean float64
	at   float64 // hours of the last score; 0 before the first
}

const (
	standHours = 2.0 / 60 // how long the average remembers under a sensor that wanders by the tolerance
	plainScore = 6        // a score so far above the limit counts at once: a sharp peak does not wait
	steadyLog  = -2.3     // the logarithm of a wander of a tenth of the tolerance, which deceives no more than none
)

// calls takes in a minute's score and reports whether the peak is to be called. The
// larger the wander (its logarithm, in tolerances), the longer a score must stand.
func (m *model) calls(s *meanScore, score, wander float32, now float64) bool {
	unsteady := min(max(1-float64(wander)/steadyLog, 0), 1)
	share := 1.0
	if s.at > 0 {
		since := max(now-s.at, 1e-6)
		share = since / (unsteady*standHours + since)
	}
	s.mean += (float64(score) - s.mean) * share
	s.at = now
	steady, wanders := float64(m.limits[limitCall]), float64(m.limits[limitCall+1])
	return max(s.mean, float64(score)-plainScore) >= steady+unsteady*(wanders-steady)
}
