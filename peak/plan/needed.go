package plan

import (
	"math"
	"time"
)

// Needed is the step for which a sound plan would need the baker in hours of sleep or
// absence, from when, and which of the two; false where these hours do not stand in the
// way. It is asked where no plan is sound. Getting up earlier comes before a day of no
// hours at all.
func (p Problem) Needed() (step string, at time.Time, why string, ok bool) {
	free := p
	free.Fixed, free.Hours = true, Hours{Zone: p.Hours.Zone}
	if up, early := p.Up(); early {
		free.Hours = p.Hours
		free.Hours.AsleepTo = up
	}
	found, err := Find(free)
	if err != nil || found[0].Cost >= lateCost {
		return "", at, "", false
	}
	for _, s := range found[0].Steps {
		from := s.At
		if !s.OvenOn.IsZero() {
			from = s.OvenOn
		}
		for slot := range int(math.Ceil(float64(s.Until.Sub(from)) / float64(Slot))) {
			at = from.Add(time.Duration(slot) * Slot)
			if why = p.Hours.why(at); why != "" {
				return s.Name, at, why, true
			}
		}
	}
	return "", at, "", false
}
