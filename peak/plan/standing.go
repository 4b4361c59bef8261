package plan

import (
	"slices"
	"time"
)

// Standing is starter that was fed already: it ripens, stands at its peak, or
// is a little past it.
type Standing struct {
	FedAt  time.Time
	Ratio  Ratio
	Warmth Warmth
	Ready  Ripe    // from the feed to its peak, by what its curve shows
	RipeG  float64 // what there is of it; 0 where that is not known
}

// Use is what a plan takes of the starter that stands there.
type Use struct {
	FedAt    time.Time
	From, To time.Time // its useful hours, if it peaks when it likely does
	UseG     float64
	KeepG    float64
}

// gone reports whether it is too long past its peak to be used.
func (s *Standing) gone(now time.Time) bool {
	return now.After(s.FedAt.Add(s.Ready(0.9) + topTooLate))
}

// fromStanding returns the plans that begin with the starter that stands there;
// none where it is too little, or ripe at the wrong time.
func (v variant) fromStanding() []Plan {
	s := v.Standing
	switch {
	case s == nil, v.Running != nil, v.Starter.Chilled, s.gone(v.Now):
		return nil
	case s.RipeG > 0 && v.Recipe.StarterG+v.KeepG > s.RipeG:
		return nil
	}
	q := v
	q.Amounts, q.Starter = nil, Starter{FedAt: s.FedAt}
	q.Running = &Running{Wait: TopName, Began: s.FedAt, Ratio: s.Ratio, Warmth: s.Warmth, Ready: s.Ready}
	parts, _ := q.parts()
	found := q.search(parts)
	for i := range found {
		peak := found[i].Waits[0].Likely
		if last := s.FedAt.Add(s.Ready(1)); last.Before(peak) {
			peak = last // it is past already
		}
		use := &Use{FedAt: s.FedAt, From: peak, To: peak.Add(topLate), UseG: v.Recipe.StarterG, KeepG: v.KeepG}
		if at := found[i].start(); at.Before(peak) {
			use.From = at // a little early is as good
		}
		found[i].Uses = use
	}
	return found
}

// rank sorts plans, the best first, and keeps those that truly differ. One that
// uses what stands there comes first while it is nearly as good: the other
// throws a ripening starter away. A stay in the fridge halves that lead.
func rank(all []Plan) []Plan {
	cost := func(p Plan) float64 {
		switch {
		case p.Uses == nil || p.Cost >= lateCost:
			return p.Cost
		case !p.Waits[0].Held.IsZero():
			return p.Cost - wasteCost/2
		}
		return p.Cost - wasteCost
	}
	slices.SortStableFunc(all, func(a, b Plan) int {
		if x, y := cost(a), cost(b); x != y {
			return cmpFloat(x, y)
		}
		return b.start().Compare(a.start()) // the later start of two equals
	})
	var out []Plan
	for _, one := range all {
		if len(out) > 0 && one.Cost > out[0].Cost+apartBy {
			continue
		}
		if len(out) < Most && !slices.ContainsFunc(out, one.like) {
			out = append(out, one)
		}
	}
	return out
}
