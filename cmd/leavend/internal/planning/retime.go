package planning

import (
	"context"
	"errors"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// movesFrom is by how much a wait must be over at another time than planned
// for the rest to be worked out again.
const movesFrom = 10 * time.Minute

// retime works the rest out again, where what is seen has moved it, or always.
// The caller holds mu.
func (k *Keeper) retime(ctx context.Context, now time.Time, always bool) error {
	c := k.chosen.clone()
	next := slices.IndexFunc(c.Shown.Steps, func(s Step) bool { return s.Kind == "do" && !s.Done })
	if next < 0 || !now.Before(c.Ask.Ready) || c.Running != nil && c.Running.steady() || c.Running == nil && next > 0 {
		return nil
	}
	late := now.After(c.Shown.Steps[next].Latest.Add(movesFrom))
	ready := k.seen(c)
	if !always && !late && !moved(c, ready) {
		return nil
	}
	if c.Running == nil && !late || !c.Trouble.IsZero() && !always && now.Sub(c.Moved) < time.Hour {
		return nil
	}
	c.Moved = now
	a, course, err := k.rest(ctx, c, now, ready)
	var none *plan.NoPlanError
	switch {
	case errors.As(err, &none):
		return k.fails(ctx, c, none, now)
	case err != nil:
		return err
	}
	was := c.Trouble
	k.take(c, a, course)
	if course.Loaf.After(c.Ask.Ready) {
		k.troubled(c, was, text.Say("plan.trouble.late", k.beside("at", c.Ask.Ready, now), k.beside("likely", course.Loaf, now)), now)
	}
	return k.keep(ctx, c)
}

// troubled notes what is wrong with the plan, and tells it unless something
// was told before.
func (k *Keeper) troubled(c *chosenPlan, was, why text.Message, now time.Time) {
	if c.Trouble = why; was.IsZero() && k.Notifier != nil {
		k.Notifier.PlanFails(c.Ask.Vessel, c.Name, why, now)
	}
}

// beside is a time of day beside another, by the kitchen's clock.
func (p *progress) beside(name string, t, from time.Time) text.Arg {
	return beside(name, t, from, p.m.Conf.Timezone)
}

// moved reports whether the running wait is likely over at another time than
// the plan has it.
func moved(c *chosenPlan, ready plan.Ripe) bool {
	if c.Running == nil || ready == nil || len(c.Course.Waits) == 0 {
		return false
	}
	return c.Running.Began.Add(ready(0.5)).Sub(c.Course.Waits[0].Likely).Abs() >= movesFrom
}

// rest searches for the best way from here.
func (k *Keeper) rest(ctx context.Context, c *chosenPlan, now time.Time, ready plan.Ripe) (asked, plan.Plan, error) {
	a, err := k.planner().Prepare(ctx, c.Ask, now)
	if err != nil {
		return a, plan.Plan{}, err
	}
	if r := c.Running; r != nil {
		if a.problem.Starter.Refreshes = 0; r.Wait.Name == plan.RefreshWait {
			a.problem.Starter.Refreshes = 1 + c.refreshesLeft()
			if a.problem.Starter.Refreshes < 2 {
				a.problem.Starter.Apart = 0
			}
		} else {
			a.problem.Amounts, a.problem.FlourInHouse = nil, nil // it is fed
		}
		a.problem.Running = &plan.Running{Wait: r.Wait.Name, Began: r.Began, Ratio: r.Ratio, Warmth: r.Wait.Warmth, Ready: ready, Next: r.next()}
	}
	plans, err := plan.Find(a.problem)
	if err != nil {
		return a, plan.Plan{}, err
	}
	return a, plans[0], nil
}

// take puts a new course in the place of what is left of the plan.
func (k *Keeper) take(c *chosenPlan, a asked, course plan.Plan) {
	shown := k.planner().Writer().plan(c.Shown.ID, course, a)
	was := map[string]Step{}
	var steps []Step
	for _, s := range c.Shown.Steps {
		if was[s.Name] = s; s.Done {
			steps = append(steps, s)
		}
	}
	for _, s := range shown.Steps {
		if s.Kind == "fold" && was[s.Name].Done {
			continue
		}
		if old := was[s.Name]; (s.Kind == "do" || s.Kind == "fold") && s.At.Sub(old.At).Abs() < 30*time.Minute {
			s.Told = old.Told
		}
		steps = append(steps, s)
	}
	if shown.Ratio == ratioText(plan.Ratio{}) {
		shown.Ratio = c.Shown.Ratio
	}
	for _, s := range c.Shown.Steps {
		if s.Kind == "do" && !s.Done && s.Told && !slices.ContainsFunc(steps, func(n Step) bool { return n.Name == s.Name && n.Told }) {
			k.over(s.Name)
		}
	}
	c.Shown, c.Course, c.Trouble = shown, course, text.Message{}
	c.Shown.Steps = steps
	k.sayWish(c)
	c.Sequence++
}

// fails notes that the plan cannot be met, and tells it once.
func (k *Keeper) fails(ctx context.Context, c *chosenPlan, none *plan.NoPlanError, now time.Time) error {
	why := text.Say("plan.trouble.lost", k.beside("at", c.Ask.Ready, now))
	if !none.Earliest.IsZero() {
		why = text.Say("plan.trouble.lost_could", k.beside("at", c.Ask.Ready, now), k.beside("could", none.Earliest, now))
	}
	k.troubled(c, c.Trouble, why, now)
	return k.keep(ctx, c)
}
