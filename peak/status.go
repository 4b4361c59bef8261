package peak

import "math"

// Status returns the detector's view after the last reading.
func (d *Detector) Status() Status {
	s := Status{Stage: Waiting, HeightMM: math.NaN(), RiseMM: math.NaN(), RiseRatio: math.NaN(),
		WanderMM: math.Sqrt(d.noise.wander), FedSource: d.feed.source, Peak: d.feed.call, Refused: d.refuse}
	if d.feed.source != "" {
		s.FedAt = d.clock.time(d.feed.at)
	}
	if d.trend.begun {
		s.HeightMM, _ = d.trend.at(0)
		if s.Stage = Lost; d.clock.hours-d.lastGood <= lostHours {
			s.Stage = d.feed.stage(s.HeightMM, s.WanderMM)
		}
		s.RiseMM = s.HeightMM - d.feed.base
		s.RiseRatio = d.feed.ratio(s.HeightMM)
		s.SpeedMMH, _ = d.trend.speed()
	}
	if !d.ahead.has {
		s.WhyNoForecast = d.why()
	}
	return s
}

// stage says how far the feed has come.
func (f *feed) stage(h, wanderMM float64) Stage {
	rise, most := h-f.base, f.high-f.base
	switch {
	case f.collapse:
		return Collapsed
	case f.called && rise < 0.9*most:
		return Falling
	case f.called:
		return AtPeak
	case most < 3+2*wanderMM:
		return Lag
	}
	return Rising
}

// why says what a forecast is waiting for.
func (c *curve) why() Reason {
	switch {
	case c.opts.Kind == Bowl && !c.opts.FloorKnown:
		return FloorUnknown
	case c.feed.target, c.feed.called:
		return NoReason
	case !c.trend.begun || c.feed.baseN < baseBins:
		return FewReadings
	case c.thermal.cold():
		return TooCold
	case !c.risenBy(minRiseMM):
		return LittleRise
	}
	return NoGrounds
}

// minRiseMM is the rise below which nothing is called a peak: a dead starter that
// creeps by a few millimetres has none.
const minRiseMM = 6

// risenBy reports whether the rise is at least so many mm, and more than what
// the sensor's own noise can feign.
func (c *curve) risenBy(mm float64) bool {
	noise := c.noise.wander + 0.1*c.noise.ofBin(int(c.noise.perBin+0.5))
	return c.feed.baseN >= baseBins && c.feed.high-c.feed.base >= max(mm, 3*math.Sqrt(noise), 3*c.noise.ofReading())
}
