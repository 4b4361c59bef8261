package peak

import "math"

// widenStages are the shares of the way, as the forecast itself sees it, at
// which the interval's halves have factors of their own: of a new starter, and
// of one with past feeds. They are chosen so that the interval holds the peak
// as often as it says, on kinds of curves that were not learnt from.
const widenStages = 5

// widthCount is how many widths a forecast from the curve has: factors of the
// interval's lower half at each stage, those of its upper half, by how much the
// latter grows with drift, and both with doubt.
const widthCount = 2*widenStages + 2

// spread is what makes an interval wider than its stage of the way does.
type spread struct {
	drift float64 // by how much of the interval's upper half the forecast has moved back recently: what was put off is put off again
	doubt float64 // how far the curve is from what past feeds expect, beyond their usual spread
}

// widths returns the factors of the interval's halves.
func (m *model) widths(known bool) []float32 {
	if known {
		return m.limits[limitKnown:limitProfile]
	}
	return m.limits[limitNew:limitKnown]
}

// widen draws the interval to its honest width. Widths are widthCount factors, or
// two that hold at every stage.
func (s spread) widen(q *[3]float64, widths []float32) {
	low, high := float64(widths[0]), float64(widths[1])
	if len(widths) == widthCount {
		i, f := widenAt(q[1])
		at := func(l []float32) float64 { return float64(l[i]) + f*float64(l[i+1]-l[i]) }
		more := 1 + float64(widths[2*widenStages+1])*s.doubt
		low = at(widths) * more
		high = at(widths[widenStages:]) * more * (1 + float64(widths[2*widenStages])*min(max(s.drift, 0), 2))
	}
	q[0] = q[1] - low*(q[1]-q[0])
	q[2] = q[1] + high*(q[2]-q[1])
}

// widenAt returns between which stages a forecast lies, and how far.
func widenAt(median float64) (i int, f float64) {
	way := 1 / (1 + max(math.Exp(median)-forecastSoft, 0))
	x := min(max((way-0.2)/0.7, 0), 0.9999) * (widenStages - 1)
	return int(x), x - math.Floor(x)
}
