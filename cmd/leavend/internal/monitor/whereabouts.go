package monitor

import (
	"time"

	"leavend/cmd/leavend/internal/config"
)

// Whereabouts tells from the sensors when a jar is not where it is meant to be: outside,
// though it is in the fridge by journal or plan, or in the fridge, though it stands outside.
// Its zero value has seen nothing.
type Whereabouts struct {
	meant bool      // in the fridge
	since time.Time // the sensors have shown the other place; zero while they do not
	cold  bool      // the probe was as cold as a fridge since the jar was put there: it went along
}

// What the sensors must show, and for how long. A fridge is at 2 to 8 °C, and no kitchen
// in use below 10 (common practice).
const (
	fridgeMaxC  = 8
	outsideMinC = 12
	leastInJar  = 10 // mm of starter: less may be the place itself
	wrongFor    = time.Hour
	coolsFor    = 2 * time.Hour // what a jar is left for to become cold
)

// Look takes in how a jar stands and reports since when it is elsewhere than meant; false
// where the sensors do not show that. distanceMM is the sensor's last reading, NaN where it failed. chilled says that it is meant to be in the fridge.
func (w *Whereabouts) Look(s Status, distanceMM, floorMM float64, chilled bool, now time.Time) (since time.Time, wrong bool) {
	if chilled != w.meant {
		*w = Whereabouts{meant: chilled}
	}
	tempC := s.FreshTempC()
	w.cold = w.cold || chilled && tempC <= fridgeMaxC
	elsewhere := s.Kind == config.Jar && tempC <= fridgeMaxC
	if chilled {
		level := floorMM - distanceMM
		stands := floorMM > 0 && level >= leastInJar && level < s.InsideMM && s.SeenWithin(s.StaleAfter)
		elsewhere = stands || w.cold && tempC >= outsideMinC
		if s.FridgeSince != nil && now.Sub(*s.FridgeSince) < coolsFor {
			elsewhere = false
		}
	}
	switch {
	case !elsewhere:
		w.since = time.Time{}
	case w.since.IsZero():
		w.since = now
	}
	return w.since, !w.since.IsZero() && now.Sub(w.since) >= wrongFor
}
