package planning

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
	"leavend/peak/timetopeak"
)

// Planner answers what is asked of a plan, from the config and, where there is
// one, the history.
type Planner struct {
	Conf  *config.Config                           // with what was changed on the page
	Store *store.Store                             // nil: nothing is known
	live  func(slug string) (monitor.Status, bool) // how a vessel stands now; nil: it is not watched
}

// AskError is a mistake in what was asked.
type AskError struct {
	Say text.Message
	err error // what the search refused; nil where the question itself is wrong
}

func (e *AskError) Error() string { return e.Say.In(text.Reader{}) }

// Unwrap gives the reason of the search.
func (e *AskError) Unwrap() error { return e.err }

// refusedBy says what the search refused.
func refusedBy(err error) text.Message {
	switch {
	case errors.Is(err, plan.ErrPast):
		return text.Say("error.past_hour")
	case errors.Is(err, plan.ErrFar):
		return text.Say("plan.asked.far", text.Number("n", plan.Longest.Hours()/24))
	}
	return text.Say("plan.asked.as_written", text.Name("why", text.Capital(err.Error())))
}

// asked is a question made ready for the search.
type asked struct {
	ask     Ask
	jar     config.Vessel
	record  monitor.Profile
	doughs  *dough.Model
	problem plan.Problem
	roomC   float64

	// Whose mat dough and starter stand on, where it is another vessel's.
	doughMat, starterMat string

	kitchen   monitor.Kitchen  // what was measured of fridge, room and mat
	roomKnown bool             // the room was measured
	ownStops  monitor.OwnStops // where the baker's best loaves ended their bulk, as far as he took that

	levainIn string // the name of the jar that a levain is built in

	doubts []text.Message
	dead   bool // it showed no top when it should have
}

// Prepare turns a question into a problem.
func (p Planner) Prepare(ctx context.Context, ask Ask, now time.Time) (asked, error) {
	a := asked{ask: ask}
	recipe, ok := p.Conf.Plan.FindRecipe(ask.Recipe)
	if !ok {
		return a, &AskError{Say: text.Say("plan.asked.no_recipe", text.Name("name", ask.Recipe), text.Name("names", strings.Join(p.Conf.Plan.RecipeNames(), ", ")))}
	}
	a.ask.Recipe = recipe.Name
	if a.jar, ok = p.jar(ask.Vessel); !ok {
		return a, &AskError{Say: text.Say("plan.asked.no_jar", text.Name("name", ask.Vessel))}
	}
	a.ask.Vessel = a.jar.Slug
	var err error
	if a.levainIn, err = p.levainJar(a.ask); err != nil {
		return a, err
	}
	if a.ask.Fridge, err = p.chilled(ctx, a.ask); err != nil {
		return a, err
	}
	if a.record, err = monitor.ProfileOf(ctx, p.Store, p.Conf.Vessels, a.jar); err != nil {
		return a, err
	}
	if a.doughs, err = monitor.DoughModel(ctx, p.Store, p.Conf); err != nil {
		return a, err
	}
	if a.ownStops, err = monitor.OwnStopsOf(ctx, p.Store, p.Conf); err != nil {
		return a, err
	}
	if a.kitchen, err = monitor.KitchenOf(ctx, p.Store, p.Conf, a.jar.Slug, now); err != nil {
		return a, err
	}
	a.roomC, a.roomKnown = monitor.RoomTemperature(ctx, p.Store, a.jar.Slug, now)
	switch mean, measured := a.kitchen.RoomMean(); {
	case !a.roomKnown && measured:
		a.roomC, a.roomKnown = mean, true
	case !a.roomKnown:
		a.roomC = p.Conf.Plan.RoomC
	}
	a.roomC = math.Round(2*a.roomC) / 2
	recipe, fixed := recipe.Times(float64(max(1, ask.Loaves))).ForStarter(a.record.Hydration), false
	if ask.Share > 0 {
		recipe, fixed = recipe.WithStarter(float64(ask.Share)), true
	}
	if ask.ColdBulk {
		recipe, _ = recipe.WithColdBulk()
		fixed = true
	}
	a.problem = plan.Problem{
		Fixed: fixed,
		Now:   now, Ready: ask.Ready, Cooled: ask.Cooled, Recipe: recipe, Hours: p.hours(), Ratios: a.ratios(p.Conf.Plan.Ratios),
		FlourInHouse: p.Conf.Plan.Flours, Ripen: a.ripen, Dough: a.Rise, Amounts: a.amounts,
		Stop: func(c float64, next plan.Next) float64 {
			return a.ownStops.Rise(p.Conf.Plan.Stops, a.ask.Recipe, c, next)
		},
	}
	a.problem.StarterAt, a.problem.DoughAt = p.warmths(&a)
	a.problem.Fridge = new(a.kitchen.Cooling(p.Conf.Plan.FridgeC, recipe.DoughG()/1000/float64(max(1, ask.Loaves))))
	a.starter(now)
	a.problem.KeepG, a.problem.Standing = spareG, p.standing(&a)
	return a, nil
}

// jar finds the jar that is meant: by its slug or name, or the first.
func (p Planner) jar(name string) (config.Vessel, bool) {
	for _, v := range p.Conf.Vessels {
		if v.Kind == config.Jar && (name == "" || v.Slug == name || v.Name == name) {
			return v, true
		}
	}
	return config.Vessel{Name: "the starter", Kind: config.Jar}, name == ""
}

// chilled reports whether the jar is in the fridge, as was said now or before.
func (p Planner) chilled(ctx context.Context, ask Ask) (bool, error) {
	if ask.Fridge || p.Store == nil {
		return ask.Fridge, nil
	}
	var since time.Time
	known, err := p.Store.States.Setting(ctx, monitor.FridgeSetting(ask.Vessel), &since)
	return known && !since.IsZero(), err
}

// hours are those in which the baker can work.
func (p Planner) hours() plan.Hours {
	c := p.Conf.Plan
	return plan.Hours{Zone: p.Conf.Timezone, AsleepFrom: int(c.AsleepFrom), AsleepTo: int(c.AsleepTo), Away: c.Away}
}

// warmths are those that starter and dough can be kept at: the room's, and
// what the mat can hold above it, where they may stand on it.
func (p Planner) warmths(a *asked) (starter, dough []plan.Warmth) {
	room := plan.Warmth{C: a.roomC}
	starter, dough = []plan.Warmth{room}, []plan.Warmth{room}
	m := p.Conf.Mat
	if !m.Heats() {
		return starter, dough
	}
	var held []plan.Warmth
	highest := min(p.Conf.Plan.WarmestC, m.SetpointMaxC)
	if lift := a.kitchen.MatLiftC; lift > 0 && a.roomC+lift < highest {
		highest = a.roomC + lift
		a.doubt("plan.doubt.weak_mat", text.Temp("most", math.Floor(highest)))
	}
	for c := p.Conf.Plan.CoolestC; c <= highest+1e-9; c++ {
		if c >= a.roomC+0.5 && c >= m.SetpointMinC {
			held = append(held, plan.Warmth{C: c, Mat: true})
		}
	}
	on, named := p.Conf.Vessel(m.Vessel)
	bowls := named && on.Kind == config.Bowl
	switch {
	case !named && a.ask.Levain == "", named && on.Slug == a.ask.ripensIn():
		starter = append(starter, held...)
	case bowls && p.Conf.Plan.StarterOnMat:
		starter, a.starterMat = append(starter, held...), on.Name
	}
	switch {
	case bowls:
		dough = append(dough, held...)
	case p.Conf.Plan.DoughOnMat:
		dough, a.doughMat = append(dough, held...), on.Name
	}
	return starter, dough
}

// Answer finds the plans and puts them into words.
func (p Planner) Answer(ctx context.Context, ask Ask, now time.Time) (Sheet, asked, []plan.Plan, error) {
	a, err := p.Prepare(ctx, ask, now)
	if err != nil {
		return Sheet{}, a, nil, err
	}
	if err := a.problem.Check(); err != nil {
		return Sheet{}, a, nil, &AskError{Say: refusedBy(err), err: err}
	}
	plans, err := plan.Find(a.problem)
	var none *plan.NoPlanError
	for errors.As(err, &none) && tooLittle(none.Ratios) && a.problem.Starter.Refreshes < mostBuilding {
		a.problem.Starter.Refreshes++ // one feed more makes more of it
		if plans, err = plan.Find(a.problem); err == nil {
			a.doubt("plan.doubt.builds", text.Weight("have", a.haveG()), text.Count("n", a.problem.Starter.Refreshes))
			none = nil
		}
	}
	if err != nil && !errors.As(err, &none) {
		return Sheet{}, a, nil, err
	}
	return p.Writer().sheet(p, a, plans, none), a, plans, nil
}

// mostBuilding is how many feeds may make more of a starter before the one that counts.
const mostBuilding = 2

// tooLittle reports whether a feed fails for want of starter in the jar.
func tooLittle(why []error) bool {
	return slices.ContainsFunc(why, func(err error) bool {
		var short *plan.ShortError
		return errors.As(err, &short) && short.In == "jar"
	})
}

// Writer speaks as the config wants it.
func (p Planner) Writer() Writer {
	return Writer{p.Conf.Reader()}
}

// Rise asks the doughs of the past how long the first rise takes. The water is
// as warm as the dough needs.
func (a *asked) Rise(s plan.Stage, c, rise float64) plan.Ripe {
	first, ok := a.problem.Recipe.FirstRise()
	if !ok || first.Name != s.Name {
		return nil
	}
	word, course := monitor.StageRecipe(a.problem.Recipe, s), timetopeak.Settling(a.begins(c), c, monitor.BowlHalf) // the water makes it so warm
	if rise == 0 {
		return a.doughs.ReadyAfter(word, a.problem.Now, course, monitor.DoughDoubtC).Quantile
	}
	return a.doughs.RisenAfter(word, 1+rise, a.problem.Now, course, monitor.DoughDoubtC).Quantile
}
