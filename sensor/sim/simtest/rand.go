package simtest

import (
	"math"
	"math/rand/v2"

	"leavend/sensor/sim"
)

// between draws evenly from lo to hi.
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// spread draws evenly in the logarithm, for quantities that span decades.
func spread(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(math.Log(hi/lo)*r.Float64())
}

// chance is true with probability p.
func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// parts is a ratio of starter, flour and water by weight.
func parts(starter, flour, water float64) sim.Ratio {
	return sim.Ratio{Starter: starter, Flour: flour, Water: water}
}
