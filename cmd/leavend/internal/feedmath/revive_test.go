package feedmath

import (
	"math"
	"testing"
	"time"
)

// TestWaking holds the feeds to common practice (no source): after 8 days one or two,
// after 23 two or three, after 35 days of two a day.
func TestWaking(t *testing.T) {
	for d, want := range map[int]int{1: 0, 7: 0, 8: 1, 14: 1, 23: 2, 35: 4, 90: 4} {
		if got := WakingFeeds(time.Duration(d) * days); got != want {
			t.Errorf("after %d days %d feeds, want %d", d, got, want)
		}
	}
	for next := 5.0; next < 300; next += 7 {
		if ripe := 3*WakingG(next)*(1-UsualLostShare) - UsualStuckG; ripe < next {
			t.Errorf("a waking feed leaves %.0f g, and the next keeps %.0f", ripe, next)
		}
	}
}

func TestFeedEveryAt(t *testing.T) {
	for c, want := range map[float64]time.Duration{15: days, 20: days, 23: 18 * time.Hour, 26: days / 2, 30: days / 2, math.NaN(): days} {
		if got := FeedEveryAt(days, c); got != want {
			t.Errorf("at %g °C each %v, want %v", c, got, want)
		}
	}
}
