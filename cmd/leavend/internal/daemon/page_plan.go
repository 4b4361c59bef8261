package daemon

import (
	"bytes"
	"context"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak/said"
)

// Plans answers the baker's question from what the house knows.
func (p *PageHouse) Plans(ctx context.Context, ask planning.Ask) (planning.Sheet, error) {
	return p.D.plans.Offer(ctx, ask)
}

// ChosenPlan is the plan that the baker goes by, and what can be baked.
func (p *PageHouse) ChosenPlan() (*planning.Chosen, []string) {
	return p.D.plans.Chosen(), p.D.Conf.Plan.RecipeNames()
}

// ChoosePlan makes a plan that was shown the one to go by.
func (p *PageHouse) ChoosePlan(ctx context.Context, id string) error {
	return p.D.plans.Choose(ctx, id)
}

// DropPlan lets go of it.
func (p *PageHouse) DropPlan(ctx context.Context) error { return p.D.plans.Drop(ctx) }

// WeeklyPlan is the loaf of every week.
func (p *PageHouse) WeeklyPlan() *planning.Weekly { return p.D.plans.Weekly() }

// SetWeeklyPlan asks for one, or for none.
func (p *PageHouse) SetWeeklyPlan(ctx context.Context, w planning.Weekly) error {
	return p.D.plans.SetWeekly(ctx, w)
}

// SkipWeeklyPlan leaves out the next.
func (p *PageHouse) SkipWeeklyPlan(ctx context.Context) error { return p.D.plans.SkipWeekly(ctx) }

// PlanStepDone notes that a step is done.
func (p *PageHouse) PlanStepDone(ctx context.Context, step string) error {
	return p.D.plans.Done(ctx, step)
}

// PlanCalendar is a plan as iCalendar, its sentences in the visitor's taste.
func (p *PageHouse) PlanCalendar(_ context.Context, id string, t web.Taste) ([]byte, error) {
	ask, plan, sequence, ok := p.D.plans.Calendar(id)
	if !ok {
		return nil, failure.ErrUnknown
	}
	plan = planning.Writer{Form: tasted(p.D.Conf, t)}.Again(plan)
	var b bytes.Buffer
	err := planning.WriteCalendar(&b, ask, plan, sequence, "leavend "+version.Version, p.D.Clock.Now())
	return b.Bytes(), err
}

// tasted is the form that a visitor wants.
func tasted(c *config.Config, t web.Taste) said.Form {
	f := c.Form()
	if t.Units != "" {
		f.US = t.Units == string(config.US)
	}
	if t.Clock != "" {
		f.Hours12 = t.Clock == "12"
	}
	return f
}
