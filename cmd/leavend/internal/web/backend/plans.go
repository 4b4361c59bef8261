package backend

import (
	"bytes"
	"context"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web"
)

// Plans answers about ways to a loaf.
type Plans struct {
	m    *monitor.Monitor
	kept *planning.Keeper
}

// Plans answers the baker's question from what is known.
func (p Plans) Plans(ctx context.Context, ask planning.Ask) (planning.Sheet, error) {
	return p.kept.Offer(ctx, ask)
}

// ChosenPlan is the plan that the baker goes by, and what can be baked.
func (p Plans) ChosenPlan() (*planning.Chosen, []string) {
	return p.kept.Chosen(), p.m.Effective().Plan.RecipeNames()
}

// ChoosePlan makes a plan that was shown the one to go by.
func (p Plans) ChoosePlan(ctx context.Context, id string) error {
	return p.kept.Choose(ctx, id)
}

// DropPlan lets go of it.
func (p Plans) DropPlan(ctx context.Context) error { return p.kept.Drop(ctx) }

// WeeklyPlan is the loaf of every week.
func (p Plans) WeeklyPlan() *planning.Weekly { return p.kept.Weekly() }

// SetWeeklyPlan asks for one, or for none.
func (p Plans) SetWeeklyPlan(ctx context.Context, w planning.Weekly) error {
	return p.kept.SetWeekly(ctx, w)
}

// SkipWeeklyPlan leaves out the next.
func (p Plans) SkipWeeklyPlan(ctx context.Context) error { return p.kept.SkipWeekly(ctx) }

// PlanStepDone notes that a step is done.
func (p Plans) PlanStepDone(ctx context.Context, step string) error {
	return p.kept.Done(ctx, step)
}

// PlanCalendar is a plan as iCalendar, its sentences in the visitor's taste.
func (p Plans) PlanCalendar(_ context.Context, id string, t web.Taste) ([]byte, error) {
	ask, plan, sequence, ok := p.kept.Calendar(id)
	if !ok {
		return nil, failure.ErrUnknown
	}
	w := planning.Writer{Reader: tasted(p.m.Conf, t)}
	plan = w.Again(plan)
	var b bytes.Buffer
	err := w.WriteCalendar(&b, ask, plan, sequence, "leavend "+version.Version, p.m.Clock.Now())
	return b.Bytes(), err
}

// tasted is how a visitor reads.
func tasted(c *config.Config, t web.Taste) text.Reader {
	r := c.Reader()
	if t.Units != "" {
		us := t.Units == string(config.US)
		r.Fahrenheit, r.Ounces, r.Inches = us, us, us
	}
	if t.Clock != "" {
		r.Hours12 = t.Clock == "12"
	}
	if t.Language != "" {
		r.Language = t.Language
	}
	return r
}
