package peak

import (
	"math"
	"testing"
	"time"

	"leavend/peak/quadratic"
	"leavend/sensor/sim/simtest"
)

// parabola is what a careful afternoon gives: a spike gate, and a least-
// squares parabola over the last two hours; the call is made when its slope
// at the live edge turns negative. It is the baseline of the campaign. It
// takes in readings one by one, as the detector does.
type parabola struct {
	begun      time.Time
	t, y       []float64 // hours and heights of the last two hours
	called     bool
	base, last float64
	from       float64 // hours of the feed's first reading
	next       float64 // hours of the next look
	suspects   int
}

const parabolaHours = 2.0

// fed starts a new curve.
func (p *parabola) fed() {
	*p = parabola{begun: p.begun, t: p.t[:0], y: p.y[:0], base: math.NaN(), last: math.NaN(), from: math.NaN()}
}

// add takes in one reading and reports whether it calls the top.
func (p *parabola) add(at time.Time, height float64) bool {
	if p.begun.IsZero() {
		p.begun = at
		p.fed()
	}
	h := at.Sub(p.begun).Hours()
	if math.IsNaN(height) {
		return false
	}
	if !math.IsNaN(p.last) && math.Abs(height-p.last) > 8 && p.suspects < 40 {
		p.suspects++
		return false
	}
	p.suspects = 0
	if math.IsNaN(p.last) {
		p.last, p.base, p.from = height, height, h
	}
	p.last += 0.3 * (height - p.last)
	p.keep(h, height)
	if h < p.next || p.called || h-p.from < parabolaHours {
		return false
	}
	p.next = h + 1.0/60
	p.called = parabolaSlope(p.t, p.y, h) < 0 && p.last-p.base > 8
	return p.called
}

// keep appends a reading and forgets what is older than the window.
func (p *parabola) keep(h, height float64) {
	old := 0
	for old < len(p.t) && p.t[old] < h-parabolaHours {
		old++
	}
	if len(p.t) == cap(p.t) && old > 0 {
		p.t, p.y = append(p.t[:0], p.t[old:]...), append(p.y[:0], p.y[old:]...)
		old = 0
	}
	p.t, p.y = append(p.t[old:], h), append(p.y[old:], height)
}

// runParabola drives the baseline over a recording.
func runParabola(rec invented) (events []Event) {
	var p parabola
	for _, s := range rec.rows {
		if s.fed {
			p.fed()
			events = append(events, Event{Kind: EventFed, At: s.at, Source: "marked"})
		}
		if p.add(s.at, s.height) {
			events = append(events, Event{Kind: EventPeak, At: s.at, PeakAt: s.at})
		}
	}
	return events
}

// parabolaSlope fits a parabola and returns its slope at h.
func parabolaSlope(t, y []float64, h float64) float64 {
	var q quadratic.Fit
	for i := range t {
		q.Add(t[i]-h, y[i], 1)
	}
	_, slope, _, _ := q.Solve()
	return slope
}

// TestBaseline wants the detector to beat the parabola on the same curves.
func TestBaseline(t *testing.T) {
	simtest.NotUnderRace(t)
	set := inventedSet(campaignSize(3), campaignSeed()+1)
	base, ours := runSetWith(set, runParabola), runSet(set)
	t.Log("\n" + base.report())
	if a, b := figuresOf(base.rows).onTop, figuresOf(ours.rows).onTop; b < a+15 {
		t.Errorf("on-top %.1f %%, the parabola %.1f %%", b, a)
	}
}
