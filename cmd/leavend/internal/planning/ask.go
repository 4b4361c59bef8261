package planning

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/feedmath"
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
	Conf  *config.Config
	Store *store.Store                             // nil: nothing is known
	live  func(slug string) (monitor.Status, bool) // how a vessel stands now; nil: it is not watched
	away  monitor.Holiday                          // as the baker named it
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
	if a.ownStops, err = monitor.OwnStopsOf(ctx, p.Store); err != nil {
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
	c, away := p.Conf.Plan, p.Conf.Plan.Away
	if !p.away.Until.IsZero() {
		away = append(slices.Clone(away), plan.Away{Start: p.away.From, End: p.away.Until})
	}
	return plan.Hours{Zone: p.Conf.Timezone, AsleepFrom: int(c.AsleepFrom), AsleepTo: int(c.AsleepTo), Away: away}
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
	for c := p.Conf.Plan.CoolestC; c <= min(p.Conf.Plan.WarmestC, m.SetpointMaxC)+1e-9; c++ {
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

// starter says how the starter stands, and what of that cannot be known.
func (a *asked) starter(now time.Time) {
	s := plan.Starter{Chilled: a.ask.Fridge}
	r, name := a.record, text.Name("name", a.jar.Name)
	switch {
	case !r.Fed:
		a.doubt("plan.doubt.not_fed", name)
	case a.shouldHaveTopped(now) && !r.Peaked && r.Watched:
		a.doubt("plan.doubt.no_peak", name, text.Time("at", r.Last.At))
		s.Refreshes, a.dead = 1, true
	case feedmath.WakingFeeds(now.Sub(r.Last.At)) > 0:
		if s.Refreshes = feedmath.WakingFeeds(now.Sub(r.Last.At)); s.Refreshes > 2 {
			s.Apart = 10 * time.Hour // two a day
		}
		a.doubt("plan.doubt.long", name, text.Count("n", int(now.Sub(r.Last.At).Hours()/24)))
		a.doubt(waking(s.Refreshes))
	case r.Model.Feeds() == 0:
		a.doubt("plan.doubt.unseen", name)
	}
	if r.Fed {
		s.FedAt = r.Last.At
	}
	a.problem.Starter = s
	if ratio, ok := r.Usual.Mix(1).Ratio(); ok && r.HasWeights {
		a.problem.UsualRatio = plan.Ratio{Flour: ratio.Flour, Water: ratio.Water}
	}
}

// waking says how a starter is brought back, and what it must show before it is baked
// with.
func waking(feeds int) string {
	switch feeds {
	case 1:
		return "plan.doubt.wake_once"
	case 2:
		return "plan.doubt.wake_twice"
	}
	return "plan.doubt.wake_days"
}

func (a *asked) doubt(key string, args ...text.Arg) {
	a.doubts = append(a.doubts, text.Say(key, args...))
}

// shouldHaveTopped reports whether nineteen starters in twenty would have come
// to their top since the last feed, in the room and out of the fridge.
func (a *asked) shouldHaveTopped(now time.Time) bool {
	if a.ask.Fridge {
		return false
	}
	span, _ := a.record.Model.TopAfter(monitor.TimeToPeakFeed(a.record.Last), timetopeak.Steady(a.roomC))
	return now.Sub(a.record.Last.At) > span.Quantile(0.95)
}

// ripen asks the starter's model. Flour and water come at the room's warmth, and a mat takes
// a while. The room is as warm as its hours are, where these were measured.
func (a *asked) ripen(f plan.Feeding) plan.Ripe {
	feed := timetopeak.Feed{StarterG: 1, WaterG: f.Ratio.Water, Rested: f.Rested, Chilled: f.Chilled}
	for _, fl := range a.flours(f.Ratio.Flour) {
		feed.Flours = append(feed.Flours, timetopeak.Flour(fl))
	}
	course := timetopeak.Settling(a.roomC, f.C, a.kitchen.Half())
	if f.C == a.roomC {
		course = a.kitchen.Course(f.C, f.At, a.problem.Hours.Zone)
	}
	span, _ := a.record.Model.TopWithin(feed, course, courseDoubtC)
	return span.Quantile
}

// courseDoubtC is how far the warmth of the coming hours is known: a guess.
const courseDoubtC = 0.5

// flours shares a weight of flour out as in the starter's usual feeds; else it
// is of the kind that the recipe has most of.
func (a *asked) flours(grams float64) []plan.Flour {
	if total := a.record.Usual.FlourG(); a.record.HasWeights && total > 0 {
		var out []plan.Flour
		for _, f := range a.record.Usual.Flours {
			out = append(out, plan.Flour{Kind: f.Kind, Grams: grams * f.Grams / total})
		}
		return out
	}
	most := plan.Flour{Kind: "flour"}
	for _, f := range a.problem.Recipe.Flours {
		if f.Grams > most.Grams {
			most = f
		}
	}
	return []plan.Flour{{Kind: most.Kind, Grams: grams}}
}

// ratios are those that a plan chooses from, with as much water in them as the starter
// is kept with: a stiff one stays stiff.
func (a *asked) ratios(all []plan.Ratio) []plan.Ratio {
	h := a.record.Hydration
	if !(h > 0) || math.Abs(h-1) < 0.05 {
		return all
	}
	out := make([]plan.Ratio, len(all))
	for i, r := range all {
		out[i] = plan.Ratio{Flour: r.Flour, Water: math.Round(100*r.Flour*h) / 100}
	}
	return out
}

// spareG is what is left over of the ripe starter, to feed on from.
const spareG = 20

// amounts are a feed's weights, by the journal's arithmetic.
func (a *asked) amounts(r plan.Ratio, starterG float64) (plan.Amounts, error) {
	have, spare := a.haveG(), float64(spareG)
	if a.ask.Levain != "" {
		have, spare = max(have-spareG, 0), 0 // all of it goes into the dough, and the mother stays
	}
	need := feedmath.Need{
		Grams: starterG, SpareG: spare, StuckG: feedmath.UsualStuckG, LostShare: feedmath.UsualLostShare,
		Have: feedmath.Starter{Grams: enoughG, Hydration: 1}, Ratio: feedmath.Ratio{Starter: 1, Flour: r.Flour, Water: r.Water},
	}
	steps, err := feedmath.Plan(need)
	if err != nil {
		return plan.Amounts{}, err
	}
	last := steps[len(steps)-1]
	if k := last.Kept.Grams; k > 0 && k < leastKeptG {
		need.Grams += math.Ceil(leastKeptG-k) * need.Ratio.Sum()
		if steps, err = feedmath.Plan(need); err != nil {
			return plan.Amounts{}, err
		}
		last = steps[len(steps)-1]
	}
	short := &plan.ShortError{Of: "starter", NeedG: last.Kept.Grams, HaveG: max(have, 0), In: "jar"}
	if last.Kept.Grams > have {
		// Feeds before the one that counts may make more of it.
		if need.Have.Grams = have; a.problem.Starter.Refreshes == 0 {
			return plan.Amounts{}, short
		} else if more, err := feedmath.Plan(need); err != nil || len(more) > 1+a.problem.Starter.Refreshes {
			return plan.Amounts{}, short
		}
	}
	out := plan.Amounts{KeepG: last.Kept.Grams, WaterG: last.WaterG, RipeG: last.RipeG}
	for _, f := range a.flours(last.FlourG) {
		f.Grams = math.Round(f.Grams)
		out.Flours = append(out.Flours, f)
	}
	return out, nil
}

// leastKeptG is what a kitchen scale of whole grams weighs well enough to feed from; a
// lean feed that needs less makes more.
const leastKeptG = 5

// enoughG stands for a jar whose content is not known.
const enoughG = 100_000

// haveG is what is in the jar: as asked, or what the last feed came to. Where
// neither is known, it is taken to be enough.
func (a *asked) haveG() float64 {
	if a.ask.HaveG > 0 {
		return float64(a.ask.HaveG)
	}
	last := monitor.MixedFeed(a.record.Last)
	if m := last.Mix(1); last.KeptG > 0 && m.FlourG > 0 {
		return max(m.TotalG()*(1-feedmath.UsualLostShare)-feedmath.UsualStuckG-a.record.TakenG, 0)
	}
	return enoughG
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
	first, ok := monitor.FirstRise(a.problem.Recipe)
	if !ok || first.Name != s.Name {
		return nil
	}
	word, course := monitor.StageRecipe(a.problem.Recipe, s), timetopeak.Settling(c, c, monitor.BowlHalf) // the water makes it so warm
	if rise == 0 {
		return a.doughs.ReadyAfter(word, a.problem.Now, course, monitor.DoughDoubtC).Quantile
	}
	return a.doughs.RisenAfter(word, 1+rise, a.problem.Now, course, monitor.DoughDoubtC).Quantile
}
