package readyby

import (
	"slices"
	"time"
)

// run is how a feed went, by the noiseless curve, after the feed.
type run struct {
	top    time.Duration // the highest point
	lo, hi time.Duration // around it within 2 % of the rise, at least 1 mm: on its peak
	warmed float64       // degree-hours above the room until the target time
}

// missed is how far the highest point was from the target time; stood is how far the target time was
// from the time on the peak; onPeak is how much of that time lies within a margin of
// the target time.
func (r run) missed(goal time.Duration) time.Duration { return (r.top - goal).Abs() }
func (r run) stood(goal time.Duration) time.Duration  { return max(r.lo-goal, goal-r.hi, 0) }
func (r run) onPeak(goal, margin time.Duration) time.Duration {
	return max(min(r.hi, goal+margin)-max(r.lo, goal-margin), 0)
}

// curve is the noiseless height, once a minute since the feed.
type curve struct {
	mm  []float64
	top int
}

// add reports whether the top is over beyond doubt.
func (c *curve) add(mm float64) bool {
	if c.mm = append(c.mm, mm); mm > c.mm[c.top] {
		c.top = len(c.mm) - 1
	}
	rise := c.mm[c.top] - c.mm[0]
	return rise > 5 && len(c.mm) > c.top+120 && c.mm[c.top]-mm > max(3, rise*0.1)
}

// reached is a dough's run: the minute of the target is all its time on the peak.
func (c *curve) reached(target, warmed float64) run {
	at := time.Duration(slices.IndexFunc(c.mm, func(mm float64) bool { return mm >= target*c.mm[0] })) * time.Minute
	return run{at, at, at, warmed}
}

func (c *curve) run(warmed float64) run {
	rise := c.mm[c.top] - c.mm[0]
	floor := c.mm[c.top] - max(1, 0.02*rise)
	lo, hi := c.top, c.top
	for lo > 0 && c.mm[lo-1] >= floor {
		lo--
	}
	for hi < len(c.mm)-1 && c.mm[hi+1] >= floor {
		hi++
	}
	m := func(i int) time.Duration { return time.Duration(i) * time.Minute }
	return run{m(c.top), m(lo), m(hi), warmed}
}
