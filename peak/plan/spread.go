package plan

import (
	"math"
	"time"

	"leavend/peak"
	"leavend/peak/dough"
)

// How finely a distribution is cut: so many equally likely times.
const starterOutcomes, doughOutcomes = 15, 9

// outcomes cuts a distribution into n equally likely numbers of slots, rising.
func outcomes(r Ripe, n int) []int {
	out := make([]int, n)
	for k := range out {
		d := r((float64(k) + 0.5) / float64(n))
		out[k] = slots(min(max(d, Slot), 14*24*time.Hour))
		if k > 0 {
			out[k] = max(out[k], out[k-1])
		}
	}
	return out
}

// atLeast is a time that is no shorter than another.
func (r Ripe) atLeast(d time.Duration) Ripe {
	return func(p float64) time.Duration { return max(r(p), d) }
}

// doughTime is a dough's time at a warmth: the recipe's, by the pace of yeast
// at one and the other (the cardinal temperature model of Rosso and others, as
// package peak has it).
func doughTime(s Stage, tempC float64) time.Duration {
	return time.Duration(float64(s.Time) * peak.Pace(s.AtC) / peak.Pace(tempC))
}

// dough is the distribution of a stage's time at a warmth: as Problem.Dough has
// it, or the recipe's time with a spread.
func (v variant) dough(s Stage, tempC float64) Ripe {
	rise := v.rise(s, tempC)
	if v.Dough != nil {
		if r := v.Dough(s, tempC, rise); r != nil {
			return r
		}
	}
	middle := float64(doughTime(s, tempC))
	if rise > 0 {
		middle *= dough.Scale(rise, v.Recipe.Rises(s))
	}
	return func(p float64) time.Duration {
		return time.Duration(middle * math.Exp(doughSpread*math.Sqrt2*math.Erfinv(2*p-1)))
	}
}
