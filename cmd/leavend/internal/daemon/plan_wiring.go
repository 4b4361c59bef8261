package daemon

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/peak/readyby"
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

// tellMissed tells that a time which was asked for cannot be met.
func (d *Daemon) tellMissed(now time.Time, v *monitor.Vessel, a readyby.Advice) {
	d.teller.tell(notify.Event{What: notify.WishFails, Vessel: v.Conf.Slug, Name: v.Conf.Name, At: now, For: a.ReadyBy, Text: a.Miss().In(d.Conf.Form())})
}

// Worn tells that the mat's switch comes near the end of its life.
func (t *teller) Worn(switches, life, times int) {
	t.tell(notify.Event{
		What: notify.SwitchWorn, Vessel: event.SubjectMat, Name: "Heat mat", At: t.d.Clock.Now(), For: time.Unix(int64(life)*int64(times), 0), Count: switches, Life: life,
	})
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
