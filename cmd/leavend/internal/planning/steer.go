package planning

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// A plan has the mat steered to the hour of the starter's top, once it is fed,
// and of the dough's target, once it is mixed into a bowl on the mat; whatever
// else waits on the mat by plan is held at the plan's warmth: a later rise, a first
// feed, and what may share the mat of another vessel, whose curve shows nothing of
// it. The baker may keep the mat to himself. A wish of his own stands before the
// plan's, and the mat's limits and guard before both.

// planMat asks the mat for what the plan wants of it.
type planMat struct {
	progress
	holds bool // the mat was asked for the dough's temperature
}

// steer sets the hour at which the running wait should be over, if the mat
// can be steered to it and no one else has set an hour. The caller holds mu.
func (k *Keeper) steer(ctx context.Context) error {
	c := k.chosen
	if c == nil || !k.onMat(c) || !c.Wish.IsZero() || len(c.Course.Waits) == 0 {
		return nil
	}
	v := k.watched(c)
	if v == nil || k.Mat.Vessel() != v || !c.shows(k.status(v)) {
		return nil
	}
	if !k.Mat.ReadyBy().IsZero() {
		return nil
	}
	at := c.Course.Waits[0].Until.Truncate(time.Minute)
	if !at.After(k.m.Clock.Now()) {
		return nil
	}
	if err := k.Mat.SteerTo(ctx, at); err != nil {
		k.m.Log.Info("the mat is not steered for the plan", "why", err)
		return nil
	}
	next := c.clone()
	next.Wish = at
	k.sayWish(next)
	return k.keep(ctx, next)
}

// onMat reports whether what the plan waits for stands on the mat, and the mat
// is the plan's to ask for.
func (p *planMat) onMat(c *chosenPlan) bool {
	r := c.Running
	return r != nil && !c.Ask.ByHand && !r.steady() && r.Wait.Warmth.Mat && p.Mat != nil && p.Mat.Allowed()
}

// unsteer takes the plan's hour back, unless another took its place.
func (p *planMat) unsteer(ctx context.Context, c *chosenPlan) {
	if c == nil || c.Wish.IsZero() || p.Mat == nil {
		return
	}
	if p.Mat.ReadyBy().Equal(c.Wish) {
		if err := p.Mat.Release(ctx); err != nil {
			p.m.Log.Warn("the wish of the plan cannot be taken back", "err", err)
		}
	}
	c.Wish = time.Time{}
}

// warm holds what waits on the mat at the plan's warmth where no hour is
// steered to. It asks as a wish does: for minutes at a time, so that nothing is
// left behind.
func (p *planMat) warm(c *chosenPlan, now time.Time) {
	if p.Mat == nil {
		return
	}
	if !p.Mat.ReadyBy().IsZero() {
		p.holds = false // its course took the place of ours
		return
	}
	want := 0.0
	if c != nil && p.onMat(c) && p.mayHold(c) && inTime(c, now) {
		want = min(max(c.Running.Wait.Warmth.C, p.m.Conf.Mat.SetpointMinC), p.m.Conf.Mat.SetpointMaxC)
	}
	if want == 0 && !p.holds {
		return
	}
	p.holds = want != 0
	if err := p.Mat.Hold(now, want); err != nil {
		p.m.Log.Error("the mat does not take the plan's warmth", "setpoint_c", want, "err", err)
	}
}

// mayHold reports whether what the plan waits for may stand on the mat, and is
// not steered to its hour there.
func (p *planMat) mayHold(c *chosenPlan) bool {
	on, may := p.Mat.Vessel().Conf, p.m.Conf.Plan
	switch w := c.Running.Wait; {
	case w.Top && on.Slug == c.Ask.ripensIn():
		return false // its hour was steered to, and the baker dropped that
	case w.Top, w.Name == plan.RefreshWait:
		return on.Slug == c.Ask.Vessel || on.Kind == config.Bowl && may.StarterOnMat
	}
	return on.Kind == config.Bowl || may.DoughOnMat
}

// inTime reports whether it is not too late yet for what follows.
func inTime(c *chosenPlan, now time.Time) bool {
	for _, s := range c.Shown.Steps {
		if s.Kind == "do" && !s.Done {
			return now.Before(s.Latest)
		}
	}
	return false
}

// sayWish says at the top's line that the mat is steered to it.
func (k *Keeper) sayWish(c *chosenPlan) {
	if c.Wish.IsZero() || c.Running == nil || !c.Running.Wait.Top {
		return
	}
	for i := range c.Shown.Steps {
		if s := &c.Shown.Steps[i]; s.Name == plan.TopName {
			*s = k.planner().Writer().put(*s, text.Say("plan.step.peak_steered", text.Time("at", c.Wish)))
		}
	}
}
