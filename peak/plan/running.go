package plan

import (
	"math"
	"time"
)

// Running is a wait that has begun: what came before it is done, and only the
// rest is planned.
type Running struct {
	Wait   string    // its name
	Began  time.Time // when
	Ratio  Ratio     // of the feed, where it ends with the top
	Warmth Warmth
	Ready  Ripe  // from Began on; nil: what was to be expected beforehand
	Next   *Next // of a bulk: what its rise was measured for; nil: whatever is best
}

// rest returns the parts that are left of all when a wait is running, that
// wait first; false if there is no such wait.
func (v variant) rest(all []part) ([]part, bool) {
	r := v.Running
	for i, x := range all {
		if x.work || x.name != r.Wait || len(x.node.ways) == 0 {
			continue
		}
		ready := r.Ready
		if ready == nil {
			ready = v.expected(x)
		}
		if ready == nil {
			return nil, false
		}
		now := x
		now.tags = []tag{{ratio: r.Ratio, warmth: r.Warmth}}
		now.node.ways = []way{v.under(ready, x.node.ways[0])}
		return append([]part{now}, all[i+1:]...), true
	}
	return nil, false
}

// expected is what was to be expected of a wait before it began.
func (v variant) expected(x part) Ripe {
	if x.top || x.name == RefreshWait {
		return v.Ripen(Feeding{At: v.Running.Began, Ratio: v.Running.Ratio, C: v.Running.Warmth.C})
	}
	for _, s := range v.Recipe.Stages {
		if s.Name == x.name && s.Kind == Rise {
			return v.dough(s, v.Running.Warmth.C)
		}
	}
	return nil
}

// under is a way that is under way: of all times it could have taken those
// that are past are ruled out. Where all are past it counts as ready since
// the last of them.
func (v variant) under(ready Ripe, like way) way {
	const fine = 20 * starterOutcomes
	passed := v.at(0).Sub(v.Running.Began)
	var left []int
	latest := 0
	for k := range fine {
		d := ready((float64(k) + 0.5) / fine)
		off := int(math.Round(float64(d-passed) / float64(Slot)))
		if off > 0 {
			left = append(left, off)
		}
		latest = off
	}
	use := like.use
	outcomes := []int{0}
	if len(left) == 0 {
		use = use.sooner(-latest)
	} else {
		outcomes = nil
		for k := range starterOutcomes {
			outcomes = append(outcomes, left[(2*k+1)*len(left)/(2*starterOutcomes)])
		}
	}
	return way{ready: func(int) []int { return outcomes }, use: use, hold: like.hold}
}

// sooner is the curve seen from so many slots later; what lies before that is
// cut off, for it is past.
func (c *curve) sooner(by int) *curve {
	out := &curve{from: c.from - by, lo: c.lo - by, hi: c.hi - by, cost: c.cost}
	if out.from < 0 {
		cut := min(-out.from, len(out.cost)-1)
		out.from, out.cost = out.from+cut, out.cost[cut:]
	}
	return out
}
