package monitor

import (
	"math"
	"slices"
	"time"
)

// distancesKept bounds the memory of the latest distances.
const distancesKept = 40

// distanceAt is one distance as the sensor said it.
type distanceAt struct {
	at time.Time
	mm float64 // NaN where none came
}

// keepDistance remembers a distance. The caller holds mu.
func (v *Vessel) keepDistance(at time.Time, mm float64) {
	if len(v.distances) == distancesKept {
		v.distances = append(v.distances[:0], v.distances[1:]...)
	}
	v.distances = append(v.distances, distanceAt{at, mm})
}

// Depth is what the sensor over a vessel has said since a moment: the middle of
// its distances in mm, from the least to the greatest, how many came and how many
// did not. The middle is NaN where none came.
func (v *Vessel) Depth(since time.Time) (middle, spread float64, came, failed int) {
	v.mu.Lock()
	defer v.mu.Unlock()
	var all []float64
	for _, d := range v.distances {
		switch {
		case d.at.Before(since):
		case math.IsNaN(d.mm):
			failed++
		default:
			all = append(all, d.mm)
		}
	}
	if len(all) == 0 {
		return math.NaN(), 0, 0, failed
	}
	slices.Sort(all)
	return all[len(all)/2], all[len(all)-1] - all[0], len(all), failed
}
