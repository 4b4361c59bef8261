package peak

import (
	"math"
	"testing"
)

// parabola is what a careful afternoon gives: a spike gate, and a least-
// squares parabola over the last two hours; the call is made when its slope
// at the live edge turns negative. It is the baseline of the campaign.
func parabola(rec invented) (events []Event) {
	const window = 2.0
	var t, y []float64
	called, base, from := false, math.NaN(), 0
	last, next := math.NaN(), 0.0
	suspects := 0
	for _, s := range rec.rows {
		h := s.at.Sub(starts).Hours()
		if s.fed {
			t, y, called, base, from, last = nil, nil, false, math.NaN(), 0, math.NaN()
			events = append(events, Event{Kind: EventFed, At: s.at, Source: "marked"})
		}
		if math.IsNaN(s.height) {
			continue
		}
		if !math.IsNaN(last) && math.Abs(s.height-last) > 8 && suspects < 40 {
			suspects++
			continue
		}
		suspects = 0
		if math.IsNaN(last) {
			last = s.height
		}
		last += 0.3 * (s.height - last)
		if math.IsNaN(base) {
			base = s.height
		}
		t, y = append(t, h), append(y, s.height)
		for t[from] < h-window {
			from++
		}
		if h < next || called || h-t[0] < window {
			continue
		}
		next = h + 1.0/60
		slope := parabolaSlope(t[from:], y[from:], h)
		if slope < 0 && last-base > 8 {
			called = true
			events = append(events, Event{Kind: EventPeak, At: s.at, PeakAt: s.at})
		}
	}
	return events
}

// parabolaSlope fits a parabola and returns its slope at h.
func parabolaSlope(t, y []float64, h float64) float64 {
	var s [5]float64
	var b [3]float64
	for i := range t {
		x, p := t[i]-h, 1.0
		for k := range s {
			s[k] += p
			if k < 3 {
				b[k] += p * y[i]
			}
			p *= x
		}
	}
	det := func(a, b, c, d, e, f, g, h, i float64) float64 {
		return a*(e*i-f*h) - b*(d*i-f*g) + c*(d*h-e*g)
	}
	return det(s[0], b[0], s[2], s[1], b[1], s[3], s[2], b[2], s[4]) /
		det(s[0], s[1], s[2], s[1], s[2], s[3], s[2], s[3], s[4])
}

// TestBaseline wants the detector to beat the parabola on the same curves.
func TestBaseline(t *testing.T) {
	set := inventedSet(campaignSize(3), campaignSeed()+1)
	base, ours := runSetWith(set, parabola), runSet(set)
	t.Log("\n" + base.report())
	if a, b := figuresOf(base.rows).onTop, figuresOf(ours.rows).onTop; b < a+15 {
		t.Errorf("on-top %.1f %%, the parabola %.1f %%", b, a)
	}
}
