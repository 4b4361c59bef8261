package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// A jar is asked about only where its sensors show for an hour that it is elsewhere.
func TestWhereabouts(t *testing.T) {
	nan := math.NaN()
	begin := time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name     string
		chilled  bool
		levels   float64 // mm above the floor; NaN: nothing is read
		temps    []float64
		from, to int // minutes after which it is asked; 0 is never
	}{
		{"in the fridge, and its place is empty", true, -6, []float64{21}, 0, 0},
		{"in the fridge, and nothing is read", true, nan, []float64{nan}, 0, 0},
		{"in the fridge, but it stands in its place", true, 60, []float64{21}, 180, 190},
		{"its probe went along and is warm again", true, nan, []float64{20, 12, 6, 5, 9, 15, 18, 19, 20, 20, 20, 20}, 210, 225},
		{"its probe stayed outside", true, -6, []float64{21, 21, 21, 21, 21, 21, 21, 21}, 0, 0},
		{"outside, and its probe is as cold as a fridge", false, nan, []float64{20, 13, 7, 5, 5, 5, 5, 5, 5}, 115, 125},
		{"outside in a cool kitchen", false, 60, []float64{14}, 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var w Whereabouts
			asked := 0
			for m := range 300 {
				now := begin.Add(time.Duration(m) * time.Minute)
				tempC := tt.temps[min(m/30, len(tt.temps)-1)]
				s := Status{Kind: config.Jar, At: now, InsideMM: 150, SeenAt: &now, StaleAfter: 3 * time.Minute, Temp: measure(3*time.Minute, now, tempC, now)}
				if tt.chilled {
					s.FridgeSince = &begin
				}
				if _, wrong := w.Look(s, 180-tt.levels, 180, tt.chilled, now); wrong && asked == 0 {
					asked = m
				}
			}
			if asked < tt.from || asked > tt.to {
				t.Errorf("asked after %d minutes, want %d to %d", asked, tt.from, tt.to)
			}
		})
	}
}
