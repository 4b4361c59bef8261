package planning

import (
	"fmt"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// step says what to do.
func step(s plan.Step, one plan.Plan, a asked) text.Message {
	switch s.Name {
	case plan.OutOfFridge:
		return text.Say("plan.step.out_of_fridge")
	case plan.RefreshFeed:
		return text.Say("plan.step.wake", text.Weight("grams", min(feedmath.WakingG(one.Feed.KeepG), math.Floor(a.haveG()))))
	case plan.FeedName:
		return a.feeds(one)
	case plan.IntoFridge:
		return text.Say("plan.step.into_fridge")
	case plan.ChillName:
		return text.Say("plan.step.chill")
	}
	if !s.OvenOn.IsZero() {
		return text.Say("plan.step.oven", text.Time("at", s.OvenOn), stage(s.Name), text.Duration("span", s.Until.Sub(s.At)), text.Temp("low", bakedFrom(a.problem.Recipe)), text.Temp("high", bakedToC))
	}
	return work(s.Name, one, a)
}

// feeds says how the starter for the dough is fed, or a levain built from it.
func (a *asked) feeds(one plan.Plan) text.Message {
	args := []text.Arg{text.Name("ratio", ratioText(one.Ratio)), text.Weight("keep", one.Feed.KeepG), text.List("flours", weigh(one.Feed.Flours)),
		text.Weight("water", one.Feed.WaterG), text.Name("name", a.jar.Name), text.Name("jar", a.levainIn)}
	switch a.ask.Levain {
	case "":
		return text.Say("plan.step.feed", args...)
	case unwatched:
		return text.Say("plan.step.levain", args...)
	}
	return text.Say("plan.step.levain_in", args...)
}

// work says what is done with the dough, and what goes into it.
func work(name string, one plan.Plan, a asked) text.Message {
	r := doughOf(one, a)
	in := r.AddsAt(name)
	switch {
	case len(in) > 0:
	case a.ask.Loaves > 1 && divides(r) == name:
		return text.Say("plan.step.divide", text.Number("n", float64(a.ask.Loaves)), stage(name))
	default:
		return text.Say("plan.step.work", stage(name))
	}
	all := text.List("adds", weigh(adds(r, name)))
	if wantC, waterC, ok := a.water(one); ok && slices.Contains(in, plan.AddsWater) {
		return text.Say("plan.step.adds_water", stage(name), all, text.Temp("water", waterC), text.Temp("dough", wantC))
	}
	return text.Say("plan.step.adds", stage(name), all)
}

// divides is the stage at which dough for several loaves is divided: the first shaping.
func divides(r plan.Recipe) string {
	for _, s := range r.Stages {
		if s.Name == "preshape" || s.Name == "shape" {
			return s.Name
		}
	}
	return ""
}

func stage(name string) text.Arg { return text.Sub("stage", text.Stage(name)) }

// A loaf is baked through between these, °C in the middle; rye is gummy below the higher
// of the first two (common practice).
const bakedFromC, ryeBakedFromC, bakedToC = 93, 96, 98

func bakedFrom(r plan.Recipe) float64 {
	if plan.MostlyRye(r.Flours) {
		return ryeBakedFromC
	}
	return bakedFromC
}

// adds are the weights that go in at a stage.
func adds(r plan.Recipe, stage string) (all []plan.Flour) {
	in := r.AddsAt(stage)
	if slices.Contains(in, plan.AddsStarter) {
		all = append(all, plan.Flour{Kind: "ripe starter", Grams: r.StarterG})
	}
	if slices.Contains(in, plan.AddsFlour) {
		all = append(all, r.Flours...)
	}
	if slices.Contains(in, plan.AddsWater) {
		all = append(all, plan.Flour{Kind: "water", Grams: r.WaterG})
	}
	if slices.Contains(in, plan.AddsSalt) {
		all = append(all, plan.Flour{Kind: "salt", Grams: r.SaltG})
	}
	return all
}

// foldName is the name of a fold's step.
func foldName(nth int) string { return fmt.Sprintf("fold %d", nth) }

// folds are the steps of a rise's folds that are still to come.
func (w Writer) folds(x plan.Wait, began time.Time, one plan.Plan, a asked) (out []Step) {
	f := plan.Folds{}
	for _, s := range doughOf(one, a).Stages {
		if s.Name == x.Name {
			f = s.Folds
		}
	}
	for i, at := range f.At(began) {
		if at.Before(a.problem.Now) {
			continue
		}
		says := text.Say("plan.step.fold", text.Number("n", float64(i+1)), text.Number("of", float64(f.Count)))
		if i == 0 && f.Count > 1 {
			says = text.Say("plan.step.fold_first", text.Number("left", float64(f.Count-1)), text.Duration("every", f.Every))
		}
		out = append(out, w.put(Step{Name: foldName(i + 1), Kind: "fold", At: at, Earliest: at.Add(-foldSlack), Latest: at.Add(foldSlack), Until: at.Add(foldTakes)}, says))
	}
	return out
}

// A fold takes some minutes, and ten more or less do not matter (common practice).
const foldTakes, foldSlack = 5 * time.Minute, 10 * time.Minute

// doughOf is what goes into the dough, as a plan has it.
func doughOf(one plan.Plan, a asked) plan.Recipe {
	if len(one.Dough.Stages) > 0 {
		return one.Dough
	}
	return a.problem.Recipe
}

// water is how warm the water must be for the dough to begin as warm as it is kept then,
// and how warm it begins with that: less where no water that a starter bears is warm
// enough. It is false where nothing is to be made of it.
func (a *asked) water(one plan.Plan) (doughC, waterC float64, ok bool) {
	starterC := a.roomC
	for _, x := range one.Waits {
		switch {
		case x.Top && x.Held.IsZero():
			starterC = x.Warmth.C
		case x.Top:
			starterC = (a.roomC + coldStarterC) / 2
		case !x.Fridge && !x.Cool && x.Name != plan.RefreshWait && x.Warmth.C > 0:
			wantC := a.begins(x.Warmth.C)
			waterC, sure := feedmath.WaterC(wantC, a.roomC, starterC, a.roomC)
			if waterC = math.Round(waterC); sure {
				return wantC, waterC, true
			}
			return math.Round(feedmath.DoughC(waterC, a.roomC, starterC, a.roomC)), waterC, true
		}
	}
	return 0, 0, false
}

// begins is how warm a dough begins that is kept at a temperature: in a hot kitchen it is
// mixed cooler, so that the bulk does not run away (common practice).
func (a *asked) begins(keptC float64) float64 {
	if keptC >= hotRoomC && keptC == a.roomC {
		return mixedInHeatC
	}
	return keptC
}

// hotRoomC is where a kitchen is hot for dough, and mixedInHeatC how warm it is mixed then.
const hotRoomC, mixedInHeatC = 27, 26

// coldStarterC is a ripe starter's temperature when it comes out of the fridge for the
// mixing. It cools a dough by half as much as its part in the sum says, for it is an
// eighth of the heat in it (a fifth of the flour; handbook heats, from memory).
const coldStarterC = 6

// then says how what follows is kept.
func then(x plan.Wait, a *asked) []text.Message {
	var out []text.Message
	switch {
	case x.Top, x.Name == plan.RefreshWait:
		out = append(out, text.Say("plan.then.keep", text.Sub("kept", a.kept(x, x.Warmth))))
	case x.Cool:
		return nil
	case x.Fridge:
		return append(out, a.inFridge(x))
	case x.Rise > 0:
		out = append(out, text.Say("plan.then.rise", append(a.waits(x), text.Share("rise", fives(x.Rise)))...))
		if plan.MostlyRye(a.problem.Recipe.Flours) {
			out = append(out, text.Say("plan.then.rye_cracks"))
		}
	default:
		out = append(out, text.Say("plan.then.ready", a.waits(x)...))
	}
	if a.shared(x) {
		out = append(out, text.Say("plan.then.its_probe"))
	}
	return out
}

// waits are the values of a rise outside the fridge.
func (a *asked) waits(x plan.Wait) []text.Arg {
	return []text.Arg{stage(x.Name), text.Sub("kept", a.kept(x, x.Warmth)), a.beside("at", x.Likely, x.From), text.Time("low", x.Low), text.Time("high", x.High)}
}

// inFridge says how long dough lies in the fridge, and how far it still goes there.
func (a *asked) inFridge(x plan.Wait) text.Message {
	args := []text.Arg{stage(x.Name), a.beside("until", x.Until, x.From), known(a.kitchen.FridgeSlow > 0)}
	switch {
	case x.Cold.IsZero() || !x.Cold.Before(x.Until):
		return text.Say("plan.then.fridge", args...)
	case x.Whole == 0:
		return text.Say("plan.then.fridge_rises", append(args, a.beside("cold", x.Cold, x.From))...)
	}
	return text.Say("plan.then.fridge_whole", append(args, a.beside("cold", x.Cold, x.From), text.Share("whole", fives(x.Whole)))...)
}
