package sim

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// NewRand returns a generator of its own for each part of a kitchen, so that
// a change in one part leaves the chances of the others as they were.
func NewRand(seed uint64, part string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(part))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// between draws evenly from lo to hi.
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }
