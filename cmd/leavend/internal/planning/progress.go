package planning

import (
	"context"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/peak/plan"
	"leavend/peak/timetopeak"
	"math"
	"slices"
	"time"
)

// progress reads from the vessels how far the plan's running wait is.
type progress struct {
	m   *monitor.Monitor
	Mat Mat // nil where no vessel stands on one
}

// seen is what the detector says of the running wait, counted from when it
// began; nil where it says nothing.
func (p *progress) seen(c *chosenPlan) plan.Ripe {
	v := p.watched(c)
	if v == nil {
		return nil
	}
	view, began := v.Observed(), c.Running.Began
	if view.Status.FedAt.Before(began.Add(-time.Hour)) {
		return nil // it speaks of a feed before
	}
	if call := view.Call; !call.At.IsZero() {
		return func(float64) time.Duration { return call.PeakAt.Sub(began) }
	}
	if f := view.Forecast; view.Expecting && f.PeakAt.After(began) {
		return timetopeak.Span{Low: max(f.Low.Sub(began), time.Minute), Likely: f.PeakAt.Sub(began), High: f.High.Sub(began)}.Quantile
	}
	return nil
}

// watched is the vessel that shows how far the running wait is: the jar until
// the top, and the bowl for the dough's first rise, for which its target is
// set; nil where nothing does.
func (p *progress) watched(c *chosenPlan) *monitor.Vessel {
	switch {
	case c.Running == nil:
		return nil
	case c.Running.Wait.Top:
		return p.m.Vessel(c.Ask.ripensIn())
	case c.Running.Wait.Fridge:
		return nil
	}
	r, _ := p.m.Conf.Plan.FindRecipe(c.Ask.Recipe)
	if i := slices.IndexFunc(r.Stages, func(s plan.Stage) bool { return s.Kind == plan.Rise }); i >= 0 && r.Stages[i].Name == c.Running.Wait.Name {
		return p.bowl()
	}
	return nil
}

// bowl is where the dough is mixed into: the bowl on the mat, or else the
// first; nil where there is none.
func (p *progress) bowl() *monitor.Vessel {
	var first *monitor.Vessel
	for _, v := range p.m.Vessels {
		switch {
		case v.Conf.Kind != config.Bowl:
		case p.Mat != nil && p.Mat.Vessel() == v:
			return v
		case first == nil:
			first = v
		}
	}
	return first
}

// stepFed is the step that a feed of a jar, or the mixing of a bowl, may be;
// -1 if none.
func (p *progress) stepFed(c *chosenPlan, subject string) int {
	if c == nil {
		return -1
	}
	mixes := ""
	if bowl := p.bowl(); bowl != nil && bowl.Conf.Slug == subject && c.Running != nil && c.Running.Wait.Name != plan.RefreshWait {
		if r, ok := p.m.Conf.Plan.FindRecipe(c.Ask.Recipe); ok {
			mixes = r.Stages[r.Joins()].Name
		}
	}
	return slices.IndexFunc(c.Shown.Steps, func(s Step) bool {
		feeds := s.Name == plan.FeedName && c.Ask.ripensIn() == subject || s.Name == plan.RefreshFeed && c.Ask.Vessel == subject
		return s.Kind == "do" && !s.Done && (feeds || s.Name == mixes)
	})
}

// aim has the bowl wait for the rise at which the plan ends its bulk: by the dough's
// own temperature, where a probe shows it.
func (p *progress) aim(ctx context.Context, c *chosenPlan) error {
	if c == nil || c.Running == nil || c.Running.Wait.Rise == 0 {
		return nil
	}
	v := p.watched(c)
	if v == nil {
		return nil
	}
	w, rise := v.Observed(), c.Running.Wait.Rise
	if w.Status.FedAt.Before(c.Running.Began.Add(-time.Hour)) {
		return nil // it holds another dough
	}
	if !math.IsNaN(w.TempC) {
		stops, next := p.m.Conf.Plan.Stops, *c.Running.next()
		rise *= stops.Rise(w.TempC, next) / stops.Rise(c.Running.Wait.Warmth.C, next)
	}
	if !w.Call.At.IsZero() || math.Abs(v.Target()-1-rise) < 0.01 {
		return nil
	}
	v.SetTarget(1 + rise)
	return p.m.SaveTarget(ctx, v.Conf.Slug, w.Status.FedAt, 1+rise)
}
