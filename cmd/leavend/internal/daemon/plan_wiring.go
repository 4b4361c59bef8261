package daemon

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/control"
)

// openPlans recalls the chosen plan.
func (d *Daemon) openPlans(ctx context.Context) error {
	d.plans = planning.NewKeeper(ctx, d.Monitor)
	d.planTold()
	return nil
}

// planTold has the people told of the plan, where somebody is.
func (d *Daemon) planTold() {
	if d.plans != nil && d.teller != nil {
		d.plans.Told = d.teller
	}
}

// steeredMat is the mat as a plan asks for it.
type steeredMat struct{ d *Daemon }

func (m steeredMat) Vessel() *monitor.Vessel { return m.d.steering.v }

func (m steeredMat) ReadyBy() time.Time {
	standing, _ := m.d.steering.said.now()
	return standing.At
}

func (m steeredMat) SteerTo(ctx context.Context, at time.Time) error {
	return m.d.wishAs(ctx, m.Vessel().Conf.Slug, wishMemory{At: at, Plan: true})
}

func (m steeredMat) Release(ctx context.Context) error {
	return m.d.DropWish(ctx, m.Vessel().Conf.Slug)
}

func (m steeredMat) Allowed() bool { return m.d.Warm.State().Mode == control.Hold }

func (m steeredMat) Hold(now time.Time, celsius float64) error {
	return m.d.Warm.SetCourse(now, celsius, courseFor)
}

// StepDue tells that a step of the chosen plan is due.
func (t *teller) StepDue(vessel, jar string, s planning.Step, now time.Time) {
	t.tell(notify.Event{What: notify.StepDue, Vessel: vessel, Name: jar, At: now, For: s.At, Until: s.Latest, Part: s.Name, Text: s.Say.In(t.d.Conf.Form())})
}

// StepOver tells that a step is done or no longer planned.
func (t *teller) StepOver(step string, now time.Time) {
	t.tell(notify.Event{What: notify.StepOver, Part: step, At: now})
}

// PlanFails tells that the plan cannot be met.
func (t *teller) PlanFails(vessel, jar, why string, now time.Time) {
	t.tell(notify.Event{What: notify.PlanFails, Vessel: vessel, Name: jar, At: now, Text: why})
}
