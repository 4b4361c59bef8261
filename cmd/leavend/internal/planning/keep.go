package planning

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// Keeper keeps the plan that the baker chose: it tells of its steps, notes
// what is done, and works the rest out again when the starter goes its own way.
type Keeper struct {
	planMat
	Notifier Notifier // nil where no one is told

	awaited atomic.Value // *awaited: the vessel that a bake waits for, and what comes next

	mu     sync.Mutex // guards what follows
	chosen *chosenPlan
	weekly *weekly     // nil: none
	offers []planOffer // the newest last
}

// planState is the name under which the store keeps the plan and how far it is.
const planState = "plan"

// Mat is the mat that a plan may ask for warmth.
type Mat interface {
	Vessel() *monitor.Vessel // on the mat
	ReadyBy() time.Time      // the time that it is steered to, whoever asked; zero for none
	SteerTo(ctx context.Context, at time.Time) error
	Release(ctx context.Context) error // ends the steering
	Allowed() bool                     // a person lets it heat
	// Hold asks for a temperature for some minutes; 0 ends that.
	Hold(now time.Time, celsius float64) error
}

// Notifier is what the baker hears of a plan.
type Notifier interface {
	StepDue(vessel, jar string, s Step, now time.Time)
	StepAhead(vessel, jar string, s Step, now time.Time) // the evening before
	StepOver(step string, now time.Time)                 // no step is all of them
	PlanFails(vessel, jar string, why text.Message, now time.Time)
}

// NewKeeper returns a keeper with the plan that was chosen before a restart.
func NewKeeper(ctx context.Context, m *monitor.Monitor) *Keeper {
	k := &Keeper{planMat: planMat{progress: progress{m: m}}}
	var stored storedPlan
	if _, err := m.Store.States.State(ctx, planState, &stored); err != nil {
		m.Log.Error("the chosen plan cannot be read", "err", err)
		return k
	}
	k.chosen = stored.plan
	k.noteAwaited()
	var w *weekly
	if _, err := m.Store.States.State(ctx, weeklyState, &w); err != nil {
		m.Log.Error("the loaf of every week cannot be read", "err", err)
		return k
	}
	k.weekly = w
	return k
}

// planner answers by what is known now.
func (k *Keeper) planner() Planner {
	return Planner{Conf: k.m.Effective(), Store: k.m.Store, live: k.live}
}

// live is how a vessel stands now.
func (p *progress) live(slug string) (monitor.Status, bool) {
	v := p.m.Vessel(slug)
	if v == nil {
		return monitor.Status{}, false
	}
	return p.status(v), true
}

// Offer answers a question, and remembers what was shown.
func (k *Keeper) Offer(ctx context.Context, ask Ask) (Sheet, error) {
	now := k.m.Clock.Now()
	sheet, _, courses, err := k.planner().Answer(ctx, ask, now)
	var mistake *AskError
	if errors.Is(err, plan.ErrPast) {
		return sheet, &failure.Refusal{Code: "past-hour", Say: text.Say("error.past_hour")}
	}
	if errors.As(err, &mistake) {
		return sheet, &failure.Refusal{Code: "ask", Say: mistake.Say}
	}
	if err != nil {
		return sheet, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	for i := range sheet.Plans {
		sheet.Plans[i].ID = fmt.Sprintf("%x-%d", now.UnixNano(), i+1)
		k.offers = append(k.offers, planOffer{sheet.Plans[i].ID, sheet.Ask, sheet.Name, sheet.Plans[i], courses[i]})
	}
	k.offers = k.offers[max(0, len(k.offers)-mostOffers):]
	return sheet, nil
}

// Choose makes an offered plan the one to go by.
func (k *Keeper) Choose(ctx context.Context, id string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, o := range k.offers {
		if o.id == id {
			return k.goBy(ctx, o)
		}
	}
	return &failure.Refusal{Code: "stale", Say: text.Say("error.stale")}
}

// goBy makes an offer the plan to go by. The caller holds mu.
func (k *Keeper) goBy(ctx context.Context, o planOffer) error {
	c := &chosenPlan{Ask: o.ask, Name: o.name, Shown: o.shown, Course: o.course, ChosenAt: k.m.Clock.Now()}
	c.Shown.Steps = slices.Clone(o.shown.Steps)
	c.Ask.Share, c.Ask.ColdBulk = o.course.Share, o.course.ColdBulk
	if use := o.course.Uses; use != nil {
		c.Running = &runningWait{Wait: o.course.Waits[0], Began: use.FedAt, Ratio: o.course.Ratio}
	}
	if err := k.m.Store.States.SetSetting(ctx, monitor.PlanSetting, map[string]any{"ask": c.Ask, "plan": c.Shown}); err != nil {
		return err
	}
	k.over("")
	return k.keep(ctx, c)
}

// Drop lets go of the plan; its steps are not told any more.
func (k *Keeper) Drop(ctx context.Context) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if c := k.chosen; c != nil && k.weekly != nil && c.Ask.Ready.After(k.weekly.After) {
		w := *k.weekly
		w.After = c.Ask.Ready // it is not wanted, and is not planned again
		if err := k.keepWeekly(ctx, &w); err != nil {
			return err
		}
	}
	return k.end(ctx)
}

// end lets go of the plan, of what was told of it and of the mat. The caller
// holds mu.
func (k *Keeper) end(ctx context.Context) error {
	k.over("")
	k.unsteer(ctx, k.chosen)
	err := k.keep(ctx, nil)
	k.warm(k.chosen, k.m.Clock.Now())
	return err
}

// Chosen is the plan that the baker goes by; nil if there is none.
func (k *Keeper) Chosen() *Chosen {
	k.mu.Lock()
	defer k.mu.Unlock()
	c := k.chosen
	if c == nil {
		return nil
	}
	w := k.planner().Writer()
	out := &Chosen{Ask: named(k.m, c.Ask), Name: c.Name, Plan: w.Again(c.Shown), ChosenAt: c.ChosenAt, Moved: c.Moved}
	if !c.Trouble.IsZero() {
		out.Trouble = new(w.says(c.Trouble))
	}
	return out
}

// Done notes that a step is done, and all before it.
func (k *Keeper) Done(ctx context.Context, step string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.done(ctx, step, k.m.Clock.Now())
}

// done is Done at a moment. The caller holds mu.
func (k *Keeper) done(ctx context.Context, name string, at time.Time) error {
	if k.chosen == nil {
		return failure.ErrUnknown
	}
	c := k.chosen.clone()
	last := slices.IndexFunc(c.Shown.Steps, func(s Step) bool { return s.Kind == "do" && s.Name == name && !s.Done })
	if last < 0 {
		return failure.ErrUnknown
	}
	planned := c.Shown.Steps[last]
	if err := k.endBulk(ctx, c, name, at); err != nil {
		return err
	}
	for i := range c.Shown.Steps[:last+1] {
		if s := &c.Shown.Steps[i]; s.Kind == "do" && !s.Done {
			s.Done = true
			k.over(s.Name)
		}
	}
	c.Shown.Steps[last].At, c.Shown.Steps[last].Until = at, at.Add(planned.Until.Sub(planned.At))
	k.begin(c, planned, at)
	if c.Running == nil || !c.Running.Wait.Top || c.Running.Held {
		k.unsteer(ctx, c)
	}
	if err := k.keep(ctx, c); err != nil {
		return err
	}
	if err := k.retime(ctx, k.m.Clock.Now(), true); err != nil {
		return err
	}
	err := k.steer(ctx)
	k.warm(k.chosen, k.m.Clock.Now())
	return err
}

// begin notes which wait runs after a step that is done.
func (k *Keeper) begin(c *chosenPlan, done Step, at time.Time) {
	if done.Name == plan.IntoFridge {
		if c.Running != nil {
			c.Running.Held = true
		}
		return
	}
	c.Running = nil
	for _, w := range c.Course.Waits {
		if w.From.Equal(done.Until) {
			c.Running = &runningWait{Wait: w, Began: at, Ratio: c.Course.Ratio}
			c.Running.Cold = w.Rise > 0 && slices.ContainsFunc(c.Course.Waits, func(next plan.Wait) bool { return next.Fridge && next.From.After(w.From) })
			if w.Name == plan.RefreshWait {
				c.Running.Ratio = plan.Ratio{Flour: 1, Water: 1}
			}
		}
	}
}

// keep stores the plan before it counts. The caller holds mu.
func (k *Keeper) keep(ctx context.Context, c *chosenPlan) error {
	if err := k.m.Store.States.SetState(ctx, planState, c); err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	k.chosen = c
	k.noteAwaited()
	return nil
}

// over ends what is told of a step, or of all.
func (k *Keeper) over(step string) {
	if k.Notifier != nil {
		k.Notifier.StepOver(step, k.m.Clock.Now())
	}
}

// Run tells of steps and follows the starter until ctx ends.
func (k *Keeper) Run(ctx context.Context) error {
	k.m.Clock.Every(ctx, time.Minute, func(now time.Time) {
		if err := k.Tick(ctx, now); err != nil && ctx.Err() == nil {
			k.m.Log.Warn("the plan cannot be followed", "err", err)
		}
	})
	return ctx.Err()
}

// Tick does what is to be done at a moment; Run calls it each minute.
func (k *Keeper) Tick(ctx context.Context, now time.Time) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	err := k.tick(ctx, now)
	return errors.Join(err, k.aimUnplanned(ctx, k.chosen))
}

// tick is Tick. The caller holds mu.
func (k *Keeper) tick(ctx context.Context, now time.Time) error {
	if k.chosen == nil {
		return k.repeat(ctx, now)
	}
	if k.chosen.over(now, k.weekly != nil) {
		return k.end(ctx)
	}
	if err := k.retime(ctx, now, false); err != nil {
		return err
	}
	if err := k.steer(ctx); err != nil {
		return err
	}
	k.warm(k.chosen, now)
	if err := k.aim(ctx, k.chosen); err != nil {
		return err
	}
	if _, away := k.m.Rules().AwayAt(now); away {
		return nil
	}
	if err := k.tellAhead(ctx, now); err != nil {
		return err
	}
	return k.remind(ctx, now)
}

// Calendar is the chosen plan, or one that was offered, for a calendar.
func (k *Keeper) Calendar(id string) (ask Ask, p Plan, sequence int, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if c := k.chosen; c != nil && (id == "" || id == c.Shown.ID) {
		return named(k.m, c.Ask), c.Shown, c.Sequence, true
	}
	for _, o := range k.offers {
		if o.id == id {
			return o.ask, o.shown, 0, true
		}
	}
	return ask, p, 0, false
}
