package simtest

import (
	"math"
	"slices"
	"testing"
	"time"

	"leavend/sensor/sim"
)

// TestTopsCanBeFoundInTheRows shows that the random recordings ask for nothing
// impossible: a plain smoother that sees the whole recording puts the top
// between Lo and Hi in nine of ten feeds; the rest wander by more than the
// band is wide. What an online detector misses beyond that is its own.
func TestTopsCanBeFoundInTheRows(t *testing.T) {
	found, all := 0, 0
	for _, r := range draws() {
		for i, f := range r.Truth.Feeds {
			if !f.Peaked {
				continue
			}
			end := r.Rows[len(r.Rows)-1].Elapsed
			if i+1 < len(r.Truth.Feeds) {
				end = r.Truth.Feeds[i+1].FedAfter - 15*time.Minute
			}
			all++
			if at := hindsight(r, f.FedAfter+20*time.Minute, end); at >= f.LoAfter-time.Minute && at <= f.HiAfter+time.Minute {
				found++
			}
		}
	}
	if share := float64(found) / float64(all); share < 0.9 {
		t.Errorf("the smoother that sees the future finds %.1f %% of %d tops", 100*share, all)
	} else {
		t.Logf("the smoother that sees the future finds %.1f %% of %d tops", 100*share, all)
	}
}

// hindsight is where the smoothed curve is highest: medians of two minutes, a
// running median of nine of them, a triangle of half an hour.
func hindsight(r *sim.Recording, from, to time.Duration) time.Duration {
	const bin = 2 * time.Minute
	bins := make([][]float64, int(r.Rows[len(r.Rows)-1].Elapsed/bin)+1)
	heights := r.Heights()
	for i, row := range r.Rows {
		if !math.IsNaN(heights[i]) {
			b := &bins[row.Elapsed/bin]
			*b = append(*b, heights[i])
		}
	}
	rough := make([]float64, len(bins))
	for i, b := range bins {
		rough[i] = middle(b)
	}
	calm := make([]float64, len(bins))
	for i := range rough {
		calm[i] = middle(rough[max(0, i-4):min(len(rough), i+5)])
	}
	best, at := math.Inf(-1), time.Duration(0)
	for i := int(from / bin); i < len(calm) && time.Duration(i)*bin < to; i++ {
		sum, weight := 0.0, 0.0
		for j := max(0, i-7); j < min(len(calm), i+8); j++ {
			if w := 8 - math.Abs(float64(i-j)); !math.IsNaN(calm[j]) {
				sum, weight = sum+w*calm[j], weight+w
			}
		}
		if sum/weight > best {
			best, at = sum/weight, time.Duration(i)*bin+bin/2
		}
	}
	return at
}

// middle is the median of the numbers among v, or NaN.
func middle(v []float64) float64 {
	kept := slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	if len(kept) == 0 {
		return math.NaN()
	}
	slices.Sort(kept)
	return kept[len(kept)/2]
}
