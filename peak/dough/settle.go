package dough

import (
	"math"
	"time"
)

// Settling is how a temperature comes to that of what surrounds it: by half of what is
// left, again and again (Newton's law of cooling).
type Settling struct {
	FromC, ToC float64       // from where the law begins to hold
	Halves     time.Duration // half of the way
	OffC       float64       // of the readings, root mean square
}

// What readings must show to be believed; all are choices of ours.
const (
	leastReadings = 12
	leastChangeC  = 3
	mostLeft      = 0.3 // of the way at the end: what comes to no end has none that is known
	mostOff       = 0.1 // of the way
	shortestHalf  = 4 * time.Minute
	longestHalf   = 8 * time.Hour
	perOctave     = 12 // halves that are tried
)

// FitSettling finds it in readings since some moment, in their order; false where they are
// too few, change too little, do not come near an end, or follow another law. For each time
// it tries, the two temperatures are a line's least squares.
func FitSettling(after []time.Duration, tempC []float64) (Settling, bool) {
	if len(after) != len(tempC) {
		return Settling{}, false
	}
	if after, tempC = withoutLag(after, tempC); len(after) < leastReadings {
		return Settling{}, false
	}
	best := Settling{OffC: math.Inf(1)}
	octaves := math.Log2(float64(longestHalf) / float64(shortestHalf))
	for i := range int(octaves*perOctave) + 1 {
		half := time.Duration(float64(shortestHalf) * math.Exp2(float64(i)/perOctave))
		if s := fitWith(half, after, tempC); s.OffC < best.OffC {
			best = s
		}
	}
	way := math.Abs(best.FromC - best.ToC)
	left := way * math.Exp2(-float64(after[len(after)-1]-after[0])/float64(best.Halves))
	ok := way >= leastChangeC && left <= mostLeft*way && best.OffC <= mostOff*way && best.Halves > shortestHalf && best.Halves < longestHalf
	return best, ok
}

// lagShare is the share of the way in which the middle of a dough lags behind its surface.
const lagShare = 0.2

// withoutLag leaves out the readings before the law begins to hold.
func withoutLag(after []time.Duration, tempC []float64) ([]time.Duration, []float64) {
	for i, c := range tempC {
		if last := tempC[len(tempC)-1]; math.Abs(c-tempC[0]) >= lagShare*math.Abs(last-tempC[0]) {
			return after[i:], tempC[i:]
		}
	}
	return nil, nil
}

// fitWith is the best fit with a time.
func fitWith(half time.Duration, after []time.Duration, tempC []float64) Settling {
	var n, sx, sy, sxx, sxy float64
	of := func(d time.Duration) float64 { return math.Exp2(-float64(d-after[0]) / float64(half)) }
	for i, d := range after {
		x, y := of(d), tempC[i]
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	det := n*sxx - sx*sx
	if !(det > 1e-12) {
		return Settling{OffC: math.Inf(1)}
	}
	way := (n*sxy - sx*sy) / det
	to := (sy - way*sx) / n
	sum := 0.0
	for i, d := range after {
		off := tempC[i] - to - way*of(d)
		sum += off * off
	}
	return Settling{FromC: to + way, ToC: to, Halves: half, OffC: math.Sqrt(sum / n)}
}

// Slower is how many times as long a mass took to cool by half than the one assumed of it
// would.
func (s Settling) Slower(massKg float64) float64 {
	return float64(s.Halves) / math.Ln2 / float64(Cooling{MassKg: massKg}.In())
}
