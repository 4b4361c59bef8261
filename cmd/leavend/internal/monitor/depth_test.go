package monitor

import (
	"math"
	"testing"
	"time"
)

// TestDepth takes the readings since a jar was emptied, and no older ones.
func TestDepth(t *testing.T) {
	now := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	_, v := watched(t, "bramble", now, nil)
	for i, mm := range []float64{120, 121, 171.2, math.NaN(), 171.8, 171.4} {
		v.Distance(now.Add(time.Duration(i)*10*time.Second), mm, "")
	}
	middle, spread, came, failed := v.Depth(now.Add(20 * time.Second))
	if middle != 171.4 || math.Abs(spread-0.6) > 1e-9 || came != 3 || failed != 1 {
		t.Errorf("middle %v, spread %v, %d came and %d failed; want 171.4, 0.6, 3 and 1", middle, spread, came, failed)
	}
	if middle, _, came, _ := v.Depth(now.Add(time.Hour)); came != 0 || !math.IsNaN(middle) {
		t.Errorf("of no reading the middle is %v", middle)
	}
}
