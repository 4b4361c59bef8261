package planning

import (
	"math"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/peak/plan"
	"leavend/peak/timetopeak"
)

// standing is the starter that was fed and is not too old to be used; nil where
// there is none.
func (p Planner) standing(a *asked) *plan.Standing {
	r := a.record
	if !r.Fed || a.dead || a.ask.Levain != "" || a.ask.Fridge || a.problem.Starter.Refreshes > 0 {
		return nil
	}
	s := &plan.Standing{FedAt: r.Last.At, Ratio: a.fedRatio(), Warmth: plan.Warmth{C: a.roomC}}
	if g := a.haveG(); g < enoughG {
		s.RipeG = g
	}
	now, watched := monitor.Status{}, false
	if p.live != nil {
		now, watched = p.live(a.jar.Slug)
	}
	watched = watched && now.Feed != nil && now.Feed.At.Sub(s.FedAt).Abs() < time.Minute
	if c := now.FreshTempC(); watched && !math.IsNaN(c) {
		s.Warmth = plan.Warmth{C: c, Mat: now.OnMat}
	}
	switch f := now.OwnForecast(); {
	case watched && (now.Stage == monitor.Collapsed || now.Stage == monitor.Unsure):
		return nil
	case watched && now.Call != nil:
		s.Ready = at(now.Call.At.Sub(s.FedAt))
	case watched && f != nil:
		s.Ready = timetopeak.Span{Low: f.Low.Sub(s.FedAt), Likely: f.At.Sub(s.FedAt), High: f.High.Sub(s.FedAt)}.Quantile
	case r.Peaked:
		s.Ready = at(r.PeakedAt.Sub(s.FedAt))
	default:
		s.Ready = a.ripen(plan.Feeding{At: s.FedAt, Ratio: s.Ratio, C: s.Warmth.C})
	}
	return s
}

// at is a time that is known.
func at(d time.Duration) plan.Ripe { return func(float64) time.Duration { return d } }

// fedRatio is the ratio of the last feed, or else the usual one.
func (a *asked) fedRatio() plan.Ratio {
	if r, ok := monitor.MixedFeed(a.record.Last).Mix(1).Ratio(); ok && a.record.Last.KeptG > 0 && r.Flour > 0 {
		return plan.Ratio{Flour: r.Flour, Water: r.Water}
	}
	if a.problem.UsualRatio.Flour > 0 {
		return a.problem.UsualRatio
	}
	return plan.Ratio{Flour: 1, Water: 1}
}
