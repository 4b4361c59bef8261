package monitor

import (
	"testing"
	"time"

	"leavend/peak/dough"
	"leavend/peak/timetopeak"
)

// Dough that a plan ends at a smaller rise, before a cold proof, is foretold for that
// rise and not for the bowl's.
func TestForecastIsForThePlansRise(t *testing.T) {
	mixed := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	a := &doughForecaster{fedAt: mixed, model: dough.New(1.75), recipe: dough.Practice(0.2)}
	bowl, ok := a.predict(mixed, timetopeak.Steady(25), 1.75)
	planned, also := a.predict(mixed, timetopeak.Steady(25), 1.4)
	if !ok || !also || !planned.PeakAt.Before(bowl.PeakAt.Add(-30*time.Minute)) || planned.RiseRatio != 1.4 {
		t.Errorf("for 1.4 it is ready at %v, for 1.75 at %v", planned.PeakAt, bowl.PeakAt)
	}
}
