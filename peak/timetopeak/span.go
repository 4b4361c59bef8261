package timetopeak

import (
	"fmt"
	"math"
	"time"
)

// Span is when the top comes, as a distribution over the time after the feed:
// the median and the middle 80 %.
type Span struct{ Low, Likely, High time.Duration }

// z80 is half the width of an 80 % interval in standard deviations.
const z80 = 1.2815515655446004

// sides returns the logarithm of the median's hours and the standard
// deviations of the logarithm below and above.
func (s Span) sides() (mid, below, above float64) {
	l := func(d time.Duration) float64 { return math.Log(max(d.Hours(), 1e-6)) }
	mid = l(s.Likely)
	return mid, max(mid-l(s.Low), 1e-9) / z80, max(l(s.High)-mid, 1e-9) / z80
}

// Quantile is the time by which the top has come with probability p. On the
// logarithm of the time each side of the median is half a normal. It is zero
// for p of 0 or less and the longest duration for 1 or more.
func (s Span) Quantile(p float64) time.Duration {
	switch {
	case !(p > 0):
		return 0
	case p >= 1:
		return math.MaxInt64
	}
	mid, below, above := s.sides()
	z := math.Sqrt2 * math.Erfinv(2*p-1)
	if z < 0 {
		return fromHours(math.Exp(mid + z*below))
	}
	return fromHours(math.Exp(mid + z*above))
}

// Before is the probability that the top comes within d of the feed: the
// inverse of Quantile.
func (s Span) Before(d time.Duration) float64 {
	if d <= 0 {
		return 0
	}
	mid, sd, above := s.sides()
	z := math.Log(d.Hours()) - mid
	if z > 0 {
		sd = above
	}
	return phi(z / sd)
}

// String writes the span as a person says it.
func (s Span) String() string {
	return fmt.Sprintf("%s (%s to %s)", short(s.Likely), short(s.Low), short(s.High))
}

// short writes hours and minutes: 7 h 20.
func short(d time.Duration) string {
	d = d.Round(time.Minute)
	return fmt.Sprintf("%d h %02d", d/time.Hour, d%time.Hour/time.Minute)
}

// fromHours converts, within what a duration can hold.
func fromHours(h float64) time.Duration {
	return time.Duration(min(max(h, 0), longest) * float64(time.Hour))
}

// longest is the greatest time looked ahead, hours. Who has not come to a top
// in ten days has none.
const longest = 240

// phi is the normal distribution.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
