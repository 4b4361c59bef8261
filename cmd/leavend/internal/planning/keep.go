package planning

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
	"leavend/peak/said"
	"leavend/peak/timetopeak"
)

// Keeper keeps the plan that the baker chose: it tells of its steps, notes
// what is done, and works the rest out again when the starter goes its own way.
type Keeper struct {
	m    *monitor.Monitor
	Mat  Mat  // nil where no vessel stands on one
	Told Told // nil where no one is told

	baking atomic.Value // the slug of the jar whose peak a bake waits for; "" is none

	mu     sync.Mutex // guards what follows
	chosen *chosenPlan
	weekly *weekly     // nil: none
	offers []planOffer // the newest last
	holds  bool        // the mat was asked for the dough's warmth
}

// planOffer is a plan that was shown and may be chosen.
type planOffer struct {
	id     string
	ask    Ask
	name   string
	shown  Plan
	course plan.Plan
}

// mostOffers bounds what is remembered of what was shown.
const mostOffers = 30

// chosenPlan is what the store keeps.
type chosenPlan struct {
	Ask      Ask          `json:"ask"`
	Name     string       `json:"name"`
	Shown    Plan         `json:"shown"`
	Course   plan.Plan    `json:"course"`            // of what is left
	Running  *runningWait `json:"running,omitempty"` // since the last step that is done
	ChosenAt time.Time    `json:"chosen_at"`
	Moved    time.Time    `json:"moved,omitzero"`
	Sequence int          `json:"sequence"`
	Trouble  said.Line    `json:"trouble,omitempty"`
	Wish     time.Time    `json:"wish,omitzero"` // the mat is steered to this hour of the top, for this plan
}

// runningWait is what goes on by itself now.
type runningWait struct {
	Wait  plan.Wait  `json:"wait"`
	Began time.Time  `json:"began"`
	Ratio plan.Ratio `json:"ratio"`
	Held  bool       `json:"held,omitempty"` // the ripe starter is in the fridge
	Cold  bool       `json:"cold,omitempty"` // of a bulk: it is ended for a proof in the fridge
}

// next is what a bulk is ended for; nil where it is none.
func (r *runningWait) next() *plan.Next {
	switch {
	case r.Wait.Rise == 0:
		return nil
	case r.Cold:
		return new(dough.ColdProof)
	}
	return new(dough.RoomProof)
}

// refreshesLeft is how many feeds that wake a starter up are still to give.
func (c *chosenPlan) refreshesLeft() (n int) {
	for _, s := range c.Shown.Steps {
		if s.Kind == "do" && s.Name == plan.RefreshFeed && !s.Done {
			n++
		}
	}
	return n
}

// steady reports whether nothing that is seen can move what comes next.
func (r *runningWait) steady() bool { return r.Wait.Fridge || r.Wait.Cool || r.Held }

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

// Told is what the baker hears of a plan.
type Told interface {
	StepDue(vessel, jar string, s Step, now time.Time)
	StepOver(step string, now time.Time) // no step is all of them
	PlanFails(vessel, jar, why string, now time.Time)
}

// NewKeeper returns a keeper with the plan that was chosen before a restart.
func NewKeeper(ctx context.Context, m *monitor.Monitor) *Keeper {
	k := &Keeper{m: m}
	var c *chosenPlan
	if _, err := m.Store.State(ctx, planState, &c); err != nil {
		m.Log.Error("the chosen plan cannot be read", "err", err)
		return k
	}
	k.chosen = c
	k.noteBaking()
	var w *weekly
	if _, err := m.Store.State(ctx, weeklyState, &w); err != nil {
		m.Log.Error("the loaf of every week cannot be read", "err", err)
		return k
	}
	k.weekly = w
	return k
}

// planner answers by what the house knows now.
func (k *Keeper) planner() Planner {
	return Planner{Conf: k.m.Conf, Store: k.m.Store, live: k.live}
}

// live is how a vessel stands now.
func (k *Keeper) live(slug string) (monitor.Observation, bool) {
	v := k.m.Vessel(slug)
	if v == nil {
		return monitor.Observation{}, false
	}
	return v.Observed(), true
}

// Offer answers a question, and remembers what was shown.
func (k *Keeper) Offer(ctx context.Context, ask Ask) (Sheet, error) {
	now := k.m.Clock.Now()
	sheet, _, courses, err := k.planner().Answer(ctx, ask, now)
	var mistake *AskError
	if errors.As(err, &mistake) {
		return sheet, &failure.Refusal{Code: "ask", Why: text.Capital(mistake.text) + "."}
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
	return &failure.Refusal{Code: "stale", Why: "This plan was shown too long ago. Ask again and choose then."}
}

// goBy makes an offer the plan to go by. The caller holds mu.
func (k *Keeper) goBy(ctx context.Context, o planOffer) error {
	c := &chosenPlan{Ask: o.ask, Name: o.name, Shown: o.shown, Course: o.course, ChosenAt: k.m.Clock.Now()}
	c.Shown.Steps = slices.Clone(o.shown.Steps)
	c.Ask.Share, c.Ask.ColdBulk = o.course.Share, o.course.ColdBulk
	if use := o.course.Uses; use != nil {
		c.Running = &runningWait{Wait: o.course.Waits[0], Began: use.FedAt, Ratio: o.course.Ratio}
	}
	if err := k.m.Store.SetSetting(ctx, monitor.PlanSetting, map[string]any{"ask": c.Ask, "plan": c.Shown}); err != nil {
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
	k.warm(k.m.Clock.Now())
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
	out := &Chosen{Ask: c.Ask, Name: c.Name, Plan: w.Again(c.Shown), ChosenAt: c.ChosenAt, Moved: c.Moved}
	if c.Trouble != nil {
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
	k.warm(k.m.Clock.Now())
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

func (c *chosenPlan) clone() *chosenPlan {
	out := *c
	out.Shown.Steps = slices.Clone(c.Shown.Steps)
	if c.Running != nil {
		r := *c.Running
		out.Running = &r
	}
	return &out
}

// keep stores the plan before it counts. The caller holds mu.
func (k *Keeper) keep(ctx context.Context, c *chosenPlan) error {
	if err := k.m.Store.SetState(ctx, planState, c); err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	k.chosen = c
	k.noteBaking()
	return nil
}

// noteBaking notes which jar's peak a bake waits for, for who asks without waiting for
// the keeper. The caller holds mu.
func (k *Keeper) noteBaking() {
	slug := ""
	if c := k.chosen; c != nil && c.Running != nil && c.Running.Wait.Top {
		slug = c.Ask.Vessel
	}
	k.baking.Store(slug)
}

// Baking reports whether a bake waits for the peak of a jar.
func (k *Keeper) Baking(slug string) bool {
	got, _ := k.baking.Load().(string)
	return got != "" && got == slug
}

// over ends what is told of a step, or of all.
func (k *Keeper) over(step string) {
	if k.Told != nil {
		k.Told.StepOver(step, k.m.Clock.Now())
	}
}

// Hear takes a feed for the feed of the plan, and a mixed bowl for its mixing, if
// the time is near.
func (k *Keeper) Hear(it monitor.Item) {
	if it.Event == nil || it.Event.Past {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if it.Event.Kind == event.Folded {
		k.folded(it.Event.At)
		return
	}
	if it.Event.Kind != event.Fed {
		return
	}
	c := k.chosen
	i := k.stepFed(c, it.Event.Subject)
	if i < 0 {
		return
	}
	at := it.Event.Detected.FeedAt
	if at.IsZero() {
		at = it.Event.At
	}
	if s := c.Shown.Steps[i]; at.Before(s.Earliest.Add(-time.Hour)) {
		return // one of every day, and not the plan's
	} else if err := k.done(context.Background(), s.Name, at); err != nil {
		k.m.Log.Error("a step of the plan could not be noted", "step", s.Name, "err", err)
	}
}

// folded notes that a fold of the plan is done. The caller holds mu.
func (k *Keeper) folded(at time.Time) {
	if k.chosen == nil {
		return
	}
	c := k.chosen.clone()
	i := slices.IndexFunc(c.Shown.Steps, func(s Step) bool {
		return s.Kind == "fold" && !s.Done && s.At.Sub(at).Abs() <= 4*foldSlack
	})
	if i < 0 {
		return
	}
	c.Shown.Steps[i].Done, c.Shown.Steps[i].At = true, at
	k.over(c.Shown.Steps[i].Name)
	if err := k.keep(context.Background(), c); err != nil {
		k.m.Log.Error("a fold of the plan could not be noted", "err", err)
	}
}

// stepFed is the step that a feed of a jar, or the mixing of a bowl, may be;
// -1 if none.
func (k *Keeper) stepFed(c *chosenPlan, subject string) int {
	if c == nil {
		return -1
	}
	mixes := ""
	if bowl := k.bowl(); bowl != nil && bowl.Conf.Slug == subject && c.Running != nil && c.Running.Wait.Name != plan.RefreshWait {
		if r, ok := k.m.Conf.Plan.FindRecipe(c.Ask.Recipe); ok {
			mixes = r.Stages[r.Joins()].Name
		}
	}
	return slices.IndexFunc(c.Shown.Steps, func(s Step) bool {
		feeds := c.Ask.Vessel == subject && (s.Name == plan.FeedName || s.Name == plan.RefreshFeed)
		return s.Kind == "do" && !s.Done && (feeds || s.Name == mixes)
	})
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

// stepAhead is how long before its best time a step is told.
const stepAhead = 10 * time.Minute

// keptAfter is how long a plan is kept after its loaf.
const keptAfter = 3 * time.Hour

// over reports whether nothing is left of a plan. Where the next waits, as with a
// loaf of every week, it is let go of as soon as the loaf is there.
func (c *chosenPlan) over(now time.Time, next bool) bool {
	left := slices.ContainsFunc(c.Shown.Steps, func(s Step) bool { return s.Kind == "do" && !s.Done })
	if next && !left && now.After(c.Shown.Loaf) {
		return true
	}
	return now.After(c.Shown.Loaf.Add(keptAfter)) && now.After(c.Ask.Ready.Add(keptAfter))
}

// Tick does what is to be done at a moment; Run calls it each minute.
func (k *Keeper) Tick(ctx context.Context, now time.Time) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.tick(ctx, now)
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
	k.warm(now)
	if err := k.aim(ctx, k.chosen); err != nil {
		return err
	}
	return k.remind(ctx, now)
}

// aim has the bowl wait for the rise at which the plan ends its bulk: by the dough's
// own temperature, where a probe shows it. The caller holds mu.
func (k *Keeper) aim(ctx context.Context, c *chosenPlan) error {
	if c == nil || c.Running == nil || c.Running.Wait.Rise == 0 {
		return nil
	}
	v := k.watched(c)
	if v == nil {
		return nil
	}
	w, rise := v.Observed(), c.Running.Wait.Rise
	if w.Status.FedAt.Before(c.Running.Began.Add(-time.Hour)) {
		return nil // it holds another dough
	}
	if !math.IsNaN(w.TempC) {
		stops, next := k.m.Conf.Plan.Stops, *c.Running.next()
		rise *= stops.Rise(w.TempC, next) / stops.Rise(c.Running.Wait.Warmth.C, next)
	}
	if !w.Call.At.IsZero() || math.Abs(v.Target()-1-rise) < 0.01 {
		return nil
	}
	v.SetTarget(1 + rise)
	return k.m.SaveTarget(ctx, v.Conf.Slug, w.Status.FedAt, 1+rise)
}

// remind tells of the steps that are due.
func (k *Keeper) remind(ctx context.Context, now time.Time) error {
	c := k.chosen.clone()
	told := false
	for i := range c.Shown.Steps {
		s := &c.Shown.Steps[i]
		from := s.At
		if !s.OvenOn.IsZero() {
			from = s.OvenOn
		}
		if s.Kind != "do" && s.Name != foldName(1) || s.Done || s.Told || now.Before(from.Add(-stepAhead)) {
			continue
		}
		s.Told, told = true, true
		if k.Told != nil {
			k.Told.StepDue(c.Ask.Vessel, c.Name, *s, now)
		}
	}
	if !told {
		return nil
	}
	return k.keep(ctx, c)
}

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
	if c.Running == nil && !late || c.Trouble != nil && !always && now.Sub(c.Moved) < time.Hour {
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
		k.troubled(c, was, said.Say("The loaf can hardly be ready by %v; %v is likely.", said.Near(c.Ask.Ready, now), said.Near(course.Loaf, now)), now)
	}
	return k.keep(ctx, c)
}

// troubled notes what is wrong with the plan, and tells it unless something
// was told before.
func (k *Keeper) troubled(c *chosenPlan, was, text said.Line, now time.Time) {
	if c.Trouble = text; was == nil && k.Told != nil {
		k.Told.PlanFails(c.Ask.Vessel, c.Name, text.In(k.m.Conf.Form()), now)
	}
}

// moved reports whether the running wait is likely over at another time than
// the plan has it.
func moved(c *chosenPlan, ready plan.Ripe) bool {
	if c.Running == nil || ready == nil || len(c.Course.Waits) == 0 {
		return false
	}
	return c.Running.Began.Add(ready(0.5)).Sub(c.Course.Waits[0].Likely).Abs() >= movesFrom
}

// seen is what the detector says of the running wait, counted from when it
// began; nil where it says nothing.
func (k *Keeper) seen(c *chosenPlan) plan.Ripe {
	v := k.watched(c)
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
func (k *Keeper) watched(c *chosenPlan) *monitor.Vessel {
	switch {
	case c.Running == nil:
		return nil
	case c.Running.Wait.Top:
		return k.m.Vessel(c.Ask.Vessel)
	case c.Running.Wait.Fridge:
		return nil
	}
	r, _ := k.m.Conf.Plan.FindRecipe(c.Ask.Recipe)
	if i := slices.IndexFunc(r.Stages, func(s plan.Stage) bool { return s.Kind == plan.Rise }); i >= 0 && r.Stages[i].Name == c.Running.Wait.Name {
		return k.bowl()
	}
	return nil
}

// bowl is where the dough is mixed into: the bowl on the mat, or else the
// first; nil where there is none.
func (k *Keeper) bowl() *monitor.Vessel {
	var first *monitor.Vessel
	for _, v := range k.m.Vessels {
		switch {
		case v.Conf.Kind != config.Bowl:
		case k.Mat != nil && k.Mat.Vessel() == v:
			return v
		case first == nil:
			first = v
		}
	}
	return first
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
	c.Shown, c.Course, c.Trouble = shown, course, nil
	c.Shown.Steps = steps
	k.sayWish(c)
	c.Sequence++
}

// fails notes that the plan cannot be met, and tells it once.
func (k *Keeper) fails(ctx context.Context, c *chosenPlan, none *plan.NoPlanError, now time.Time) error {
	could := said.Line(nil)
	if !none.Earliest.IsZero() {
		could = said.Say("; it could be by %v", said.Near(none.Earliest, now))
	}
	k.troubled(c, c.Trouble, said.Say("The loaf can no longer be ready by %v%v. Drop the plan or make a new one.", said.Near(c.Ask.Ready, now), could), now)
	return k.keep(ctx, c)
}

// Calendar is the chosen plan, or one that was offered, for a calendar.
func (k *Keeper) Calendar(id string) (ask Ask, p Plan, sequence int, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if c := k.chosen; c != nil && (id == "" || id == c.Shown.ID) {
		return c.Ask, c.Shown, c.Sequence, true
	}
	for _, o := range k.offers {
		if o.id == id {
			return o.ask, o.shown, 0, true
		}
	}
	return ask, p, 0, false
}
