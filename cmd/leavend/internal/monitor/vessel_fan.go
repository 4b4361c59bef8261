package monitor

import (
	"time"
)

// FanPoint is a moment of the expected course, as rise ratios: the median and
// the 80 % interval.
type FanPoint struct {
	At             time.Time
	Low, Mid, High float64
}

// Fan returns the course that the forecast expects; empty where there is none, or
// where the height at the feed is not known. It is worked out at most once a
// minute, however often somebody looks.
func (v *Vessel) Fan() []FanPoint {
	v.mu.Lock()
	defer v.mu.Unlock()
	s := v.now.Status
	fed := v.Shape.EquivalentMM(s.HeightMM - s.RiseMM)
	if !v.now.Expecting || !v.Conf.Calibrated() || !(fed > 0) {
		return nil
	}
	if v.now.At.Sub(v.fanAt).Abs() >= time.Minute {
		v.fan, _ = v.detector.Fan()
		v.fanAt = v.now.At
	}
	course := make([]FanPoint, 0, len(v.fan))
	ratio := func(mm float64) float64 { return 1 + mm/fed }
	for _, p := range v.fan {
		course = append(course, FanPoint{p.At, ratio(p.LowMM), ratio(p.MidMM), ratio(p.HighMM)})
	}
	return course
}
