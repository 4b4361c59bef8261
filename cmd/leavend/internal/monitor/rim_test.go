package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// TestRim puts invented doughs into a straight tub of 150 mm and into a cone that widens.
func TestRim(t *testing.T) {
	tub := config.Vessel{Kind: config.Bowl, FloorMM: 250, HeightMM: 150, TargetRatio: 1.75}
	cone := config.Vessel{Kind: config.Bowl, FloorMM: 250, BottomMM: 100, TopMM: 260, HeightMM: 150, TargetRatio: 1.75}
	at := time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name       string
		conf       config.Vessel
		fed, now   float64
		ratio      float64 // risen by now
		to         float64 // of the forecast; 0 is none
		stage      Stage
		near, over bool
	}{
		{"low, and stays low", tub, 60, 80, 1.33, 1.75, Rising, false, false},
		{"low, and would rise over the rim", tub, 90, 115, 1.28, 1.75, Rising, true, true},
		{"too early to believe the forecast", tub, 90, 95, 1.05, 1.75, Rising, false, false},
		{"near, with no forecast", tub, 90, 140, 1.55, 0, Rising, true, false},
		{"near, but it has not begun to rise", tub, 142, 142, 1, 0, Lag, false, false},
		{"at its target and near", tub, 82, 143, 1.75, 0, AtTarget, true, false},
		{"a straight wall would put it over the rim, and a cone does not", cone, 90, 105, 1.35, 1.75, Rising, false, false},
		{"no rim is known", config.Vessel{Kind: config.Bowl, FloorMM: 250}, 90, 200, 2, 0, Rising, false, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			v := NewVessel(tt.conf, nil)
			s := Status{At: at, Stage: tt.stage, FedHeightMM: &tt.fed, Height: &Measure{tt.now, at, true}, Ratio: &Measure{tt.ratio, at, true}}
			if tt.to > 0 {
				s.Forecast = &Forecast{At: at.Add(2 * time.Hour), Ratio: &tt.to, Source: OwnCurve}
			}
			got := v.rim(s)
			if (got != nil) != tt.near || got != nil && got.Over != tt.over {
				t.Fatalf("got %+v", got)
			}
			if got != nil && math.Abs(got.LeftMM-(tt.conf.HeightMM-tt.now)) > 1e-9 {
				t.Errorf("%g mm are left", got.LeftMM)
			}
		})
	}
}
