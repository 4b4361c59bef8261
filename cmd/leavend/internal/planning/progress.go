package planning

import (
	"context"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/peak/dough"
	"leavend/peak/plan"
	"leavend/peak/timetopeak"
)

// progress reads from the vessels how far the plan's running wait is.
type progress struct {
	m   *monitor.Monitor
	Mat Mat // nil where no vessel stands on one

	StatusOf func(v *monitor.Vessel, now time.Time) monitor.Status // in place of the vessel's own; nil but in tests
}

// status is how a vessel stands now.
func (p *progress) status(v *monitor.Vessel) monitor.Status {
	if p.StatusOf != nil {
		return p.StatusOf(v, p.m.Clock.Now())
	}
	return v.Status(p.m.Clock.Now())
}

// shows reports whether a vessel holds what the running wait is for, and not a feed
// before.
func (c *chosenPlan) shows(s monitor.Status) bool {
	return s.Feed != nil && !s.Feed.At.Before(c.Running.Began.Add(-time.Hour))
}

// seen is what the detector says of the running wait, counted from when it
// began; nil where it says nothing.
func (p *progress) seen(c *chosenPlan) plan.Ripe {
	v := p.watched(c)
	if v == nil {
		return nil
	}
	s, began := p.status(v), c.Running.Began
	if !c.shows(s) {
		return nil
	}
	if s.Call != nil {
		return at(s.Call.At.Sub(began))
	}
	if f := s.OwnForecast(); f != nil && f.At.After(began) {
		return timetopeak.Span{Low: max(f.Low.Sub(began), time.Minute), Likely: f.At.Sub(began), High: f.High.Sub(began)}.Quantile
	}
	return nil
}

// watched is the vessel that shows how far the running wait is: the jar until
// the top, and the bowl for the dough's first rise, for which its target is
// set; nil where nothing does.
func (p *progress) watched(c *chosenPlan) *monitor.Vessel {
	switch {
	case c == nil || c.Running == nil:
		return nil
	case c.Running.Wait.Top:
		return p.m.Vessel(c.Ask.ripensIn())
	case c.Running.Wait.Fridge:
		return nil
	}
	r, _ := p.m.Effective().Plan.FindRecipe(c.Ask.Recipe)
	if first, ok := r.FirstRise(); ok && first.Name == c.Running.Wait.Name {
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
		if r, ok := p.m.Effective().Plan.FindRecipe(c.Ask.Recipe); ok {
			mixes = r.Stages[r.Joins()].Name
		}
	}
	return slices.IndexFunc(c.Shown.Steps, func(s Step) bool {
		feeds := s.Name == plan.FeedName && c.Ask.ripensIn() == subject || s.Name == plan.RefreshFeed && c.Ask.Vessel == subject
		return s.Kind == "do" && !s.Done && (feeds || s.Name == mixes)
	})
}

// endBulk notes how far the dough of the bowl had risen when a step ends its bulk, unless
// the baker said so before.
func (p *progress) endBulk(ctx context.Context, c *chosenPlan, step string, at time.Time) error {
	v := p.watched(c)
	if v == nil || c.Running.Wait.Rise == 0 {
		return nil
	}
	s := p.status(v)
	if !c.shows(s) || s.Used != nil {
		return nil
	}
	how := monitor.DoughShaped
	if step == plan.ChillName {
		how = monitor.DoughChilled
	}
	_, err := p.m.UseNow(ctx, s, how, at)
	return err
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
	s, rise := p.status(v), c.Running.Wait.Rise
	if !c.shows(s) {
		return nil
	}
	if tempC := s.FreshTempC(); !math.IsNaN(tempC) {
		stops, next := p.m.Conf.Plan.Stops, c.Course.Dough.EndsFor(*c.Running.next()) // the baker's own are scaled as these
		rise *= stops.Rise(tempC, next) / stops.Rise(c.Running.Wait.Warmth.C, next)
	}
	return p.await(ctx, v, s, rise)
}

// aimUnplanned has dough that was mixed without a plan wait for the rise at which the
// baker's best loaves of its kind ended their bulk, and else dough of rye for the rise of
// rye. All other waits for what the configuration says.
func (p *progress) aimUnplanned(ctx context.Context, c *chosenPlan) error {
	for _, v := range p.m.Vessels {
		if v.Conf.Kind != config.Bowl {
			continue
		}
		mix, ok, err := p.m.Store.Journal.LastFeed(ctx, v.Conf.Slug)
		if err != nil {
			return err
		}
		s := p.status(v)
		planned := p.watched(c) == v && c.Running.Wait.Rise > 0 && c.shows(s)
		if !ok || planned || s.Used != nil || s.Feed == nil || mix.At.Sub(s.Feed.At).Abs() >= time.Minute {
			continue
		}
		tempC := s.FreshTempC()
		if math.IsNaN(tempC) {
			tempC = p.m.Conf.Plan.RoomC
		}
		conf := p.m.Effective()
		own, err := monitor.OwnStopsOf(ctx, p.m.Store, conf)
		if err != nil {
			return err
		}
		rise, ok := own.Unplanned(conf, p.m.Loaves().KindOf(mix), tempC)
		switch {
		case ok:
		case monitor.RyeMix(mix):
			rise = p.m.Conf.Plan.Stops.Rise(tempC, dough.RyeBake)
		default:
			continue
		}
		if err := p.await(ctx, v, s, rise); err != nil {
			return err
		}
	}
	return nil
}

// await has the dough in a bowl wait for a rise, as a share of its volume at the mixing.
func (p *progress) await(ctx context.Context, v *monitor.Vessel, s monitor.Status, rise float64) error {
	if s.Call != nil || math.Abs(v.Target()-1-rise) < 0.01 {
		return nil
	}
	v.SetTarget(1 + rise)
	return p.m.SaveTarget(ctx, v.Conf.Slug, s.Feed.At, 1+rise)
}
