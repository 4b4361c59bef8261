package planning

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
	"leavend/peak/said"
)

// Writer puts plans into a baker's plain English. Everything a plan says is
// in this file; how numbers are written in it is the form's.
type Writer struct{ said.Form }

// says is a sentence for the page and for whoever reads the API.
func (w Writer) says(l said.Line) Said { return Said{Text: l.In(w.Form), Say: l} }

// lasts is a length of time.
func lasts(d time.Duration) string {
	m := int(d.Round(time.Minute).Minutes())
	if m < 90 {
		return fmt.Sprintf("%d min", m)
	}
	if m%60 == 0 {
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %02d", m/60, m%60)
}

// chance is a probability as a person says it; "" for next to none.
func chance(p float64) string {
	numbers := []string{"", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	switch n := int(math.Round(10 * p)); {
	case p < 0.03:
		return ""
	case p < 0.075:
		return "one in twenty"
	case n >= 10:
		return "almost sure"
	default:
		return numbers[max(n, 1)] + " in ten"
	}
}

// ratioText writes a ratio as bakers do.
func ratioText(r plan.Ratio) string { return fmt.Sprintf("1:%.3g:%.3g", r.Flour, r.Water) }

// kept says where something stands. A mat of another vessel is called by its name.
func (a *asked) kept(x plan.Wait, w plan.Warmth) said.Line {
	of := a.matOf(x)
	switch {
	case w.Mat && of != "":
		return said.Say("on the mat of %v at %v", of, said.Degrees(w.C))
	case w.Mat:
		return said.Say("on the mat at %v", said.Degrees(w.C))
	}
	return said.Say("in the room, about %v", said.Degrees(w.C))
}

// matOf is the vessel whose mat what waits would stand on; "" where it is its own.
func (a *asked) matOf(x plan.Wait) string {
	if x.Top || x.Name == plan.RefreshWait {
		return a.starterMat
	}
	return a.doughMat
}

// shared reports whether a wait is spent on another vessel's mat.
func (a *asked) shared(x plan.Wait) bool {
	return x.Warmth.Mat && !x.Fridge && !x.Cool && a.matOf(x) != ""
}

// weigh lists weights; what weighs nothing is left out.
func weigh(all []plan.Flour) said.Line {
	var out said.Line
	for _, f := range all {
		switch {
		case !(f.Grams > 0):
		case out == nil:
			out = said.Say("%v of %v", said.Grams(f.Grams), f.Kind)
		default:
			out = out.And(said.Say(", %v of %v", said.Grams(f.Grams), f.Kind))
		}
	}
	return out
}

// sheet is the whole answer.
func (w Writer) sheet(p Planner, a asked, plans []plan.Plan, none *plan.NoPlanError) Sheet {
	s := Sheet{
		Ask: a.ask, Name: a.jar.Name, Invented: a.problem.Recipe.Invented, Grounds: w.says(grounds(a)), Doubts: []Said{}, Plans: []Plan{},
		Recipes: p.Conf.Plan.RecipeNames(), MadeAt: a.problem.Now, RoomC: a.roomC, FeedsUsed: a.record.Model.Feeds(), DoughsUsed: a.doughs.Doughs(),
	}
	for _, d := range append(a.doubts, sharing(plans, &a)...) {
		s.Doubts = append(s.Doubts, w.says(d))
	}
	for i, one := range plans {
		s.Plans = append(s.Plans, w.plan(fmt.Sprint(i+1), one, a))
	}
	by := said.Near(a.problem.Ready, a.problem.Now)
	noPlan := said.Line(nil)
	switch {
	case none != nil && len(none.Ratios) > 0:
		noPlan = said.Say("No feed makes the starter for this bread. %v", short(none.Ratios))
	case none != nil && !a.problem.Hours.Ever(a.problem.Now, a.problem.Ready):
		noPlan = said.Say("There is no way to the loaf by %v: until then you are asleep or away all the time.", by)
		s.Earliest = none.Earliest
	case none != nil:
		noPlan = said.Say("There is no way to the loaf by %v: too little time, with your hours of sleep and absence.", by)
		s.Earliest = none.Earliest
	case len(plans) > 0 && plans[0].Score() < 60:
		noPlan = said.Say("There is no sound way to the loaf by %v; the best there is a gamble.", by)
		s.Earliest = plan.Earliest(a.problem)
	}
	if noPlan != nil {
		noPlan = noPlan.And(nearMiss(a, s.Earliest))
	}
	if noPlan != nil && a.problem.Ready.Sub(a.problem.Now) < sameDay && a.problem.Recipe.Bakes() {
		noPlan = noPlan.And(said.Say(" Today the discard bakes flatbread, crackers or pancakes, which need no rise."))
	}
	if noPlan != nil {
		s.NoPlan = new(w.says(noPlan))
	}
	return s
}

// nearMiss says what a little more time, or an earlier morning, would make possible.
func nearMiss(a asked, earliest time.Time) said.Line {
	up, early := a.problem.Up()
	soon := !earliest.IsZero() && earliest.Sub(a.problem.Ready) <= 2*time.Hour
	at := func(minute int) said.Line {
		r := a.problem.Ready.In(a.problem.Hours.Zone)
		return said.Say("%v", said.Clock(time.Date(r.Year(), r.Month(), r.Day(), minute/60, minute%60, 0, 0, a.problem.Hours.Zone)))
	}
	switch {
	case soon && early:
		return said.Say(" %v would be sound; or up at %v.", said.Near(earliest, a.problem.Now), at(up))
	case soon:
		return said.Say(" %v would be sound.", said.Near(earliest, a.problem.Now))
	case early:
		return said.Say(" It would be sound if you were up at %v.", at(up))
	}
	return nil
}

// sameDay is how near an hour must be for something else to be baked in its place.
const sameDay = 9 * time.Hour

// short says what is lacking, by the ratio that lacks least.
func short(all []error) said.Line {
	var least *plan.ShortError
	for _, err := range all {
		var s *plan.ShortError
		if errors.As(err, &s) && (least == nil || s.NeedG-s.HaveG < least.NeedG-least.HaveG) {
			least = s
		}
	}
	if least == nil {
		return said.Say("%v.", text.Capital(all[len(all)-1].Error()))
	}
	return said.Say("Fed %v it takes %v of %v, and %v are in the %v.", ratioText(least.Ratio), said.Grams(least.NeedG), least.Of, said.Grams(least.HaveG), least.In)
}

// grounds says what the times rest on.
func grounds(a asked) said.Line {
	of := said.Say("The times rest on published growth rates and the trade's usual times, not on this starter.")
	switch n := a.record.Model.Feeds(); {
	case n == 1:
		of = said.Say("The times rest on one past feed of this starter and on published growth rates.")
	case n > 1:
		of = said.Say("The times rest on %v past feeds of this starter.", n)
	}
	first, ok := monitor.FirstRise(a.problem.Recipe)
	if !ok {
		return of
	}
	switch n := a.doughs.Doughs(); {
	case n == 1:
		of = of.And(said.Say(" The %v's rests on the recipe and on your last dough.", first.Name))
	case n > 1:
		of = of.And(said.Say(" The %v's rests on your last %v doughs.", first.Name, n))
	case a.problem.Recipe.Invented:
		of = of.And(said.Say(" The %v's is common practice, for none of your doughs was watched yet.", first.Name))
	}
	return of
}

// plan is one plan, line by line.
func (w Writer) plan(id string, one plan.Plan, a asked) Plan {
	out := Plan{ID: id, Score: one.Score(), Ratio: ratioText(one.Ratio), Loaf: one.Loaf, Risks: []Said{}, Why: []Said{}, Late: new(rounded(one.Late))}
	for _, r := range risks(one, a) {
		out.Risks = append(out.Risks, w.says(r))
	}
	if one.Share > 0 {
		was := a.problem.Recipe.Share()
		out.Why = append(out.Why, w.says(said.Say("It takes %v of starter on the flour, where the recipe has %v, to be ready in time; flour and water are corrected.", percent(one.Share), percent(was))))
	}
	if one.ColdBulk {
		out.Why = append(out.Why, w.says(said.Say("The bulk goes into the fridge, for no other way fits your hours.")))
	}
	for _, r := range why(one, &a) {
		out.Why = append(out.Why, w.says(r))
	}
	wait := 0
	if a.problem.Running != nil && len(one.Waits) > 0 {
		wait = 1 // it runs already; its line is that of a step that is done
		if one.Waits[0].Top {
			out.Steps = append(out.Steps, w.topLine(one.Waits[0]))
		}
		out.Steps = append(out.Steps, w.folds(one.Waits[0], a.problem.Running.Began, one, a)...)
	}
	if one.Uses != nil {
		wait = 1
		out.Steps = append(out.Steps, w.ripeLine(one, a))
	}
	for _, s := range one.Steps {
		line := Step{Name: s.Name, Kind: "do", At: s.At, Earliest: s.Earliest, Latest: s.Latest, Until: s.Until, OvenOn: s.OvenOn}
		text := step(s, one, a)
		// The wait that follows belongs to the line.
		if wait < len(one.Waits) && one.Waits[wait].From.Equal(s.Until) && s.Name != plan.IntoFridge {
			x := one.Waits[wait]
			wait++
			text = text.And(then(x, &a))
			if !x.Cool {
				line.Mat, line.Fridge = x.Warmth.Mat && !x.Fridge, x.Fridge
			}
			if !x.Cool && !x.Fridge {
				line.WarmthC = new(x.Warmth.C)
			}
			out.Steps = append(out.Steps, w.put(line, text))
			out.Steps = append(out.Steps, w.folds(x, x.From, one, a)...)
			if x.Top {
				out.Steps = append(out.Steps, w.topLine(x))
			}
			continue
		}
		out.Steps = append(out.Steps, w.put(line, text))
	}
	done := said.Say("The loaf is out of the oven.")
	switch {
	case !a.problem.Recipe.Bakes():
		done = said.Say("It is ready.")
	case a.ask.Cooled:
		done = said.Say("The loaf is out of the oven and has cooled.")
	}
	out.Steps = append(out.Steps, w.put(Step{Name: plan.LoafName, Kind: "loaf", At: one.Loaf, Earliest: one.Loaf, Latest: one.Loaf, Until: one.Loaf}, done))
	slices.SortStableFunc(out.Steps, func(a, b Step) int { return a.At.Compare(b.At) }) // the top may be likely after the mixing
	if a.dead {
		out.Late = nil
	}
	return out
}

// put puts a sentence into a step.
func (w Writer) put(s Step, l said.Line) Step {
	s.Text, s.Say = l.In(w.Form), l
	return s
}

// Again writes what was said of a plan again, for a reader of another form than
// the one it was made in.
func (w Writer) Again(p Plan) Plan {
	p.Steps, p.Risks, p.Why = slices.Clone(p.Steps), slices.Clone(p.Risks), slices.Clone(p.Why)
	for i, s := range p.Steps {
		p.Steps[i] = w.put(s, s.Say)
	}
	for _, all := range [][]Said{p.Risks, p.Why} {
		for i, s := range all {
			all[i] = w.says(s.Say)
		}
	}
	return p
}

// topLine is the line of the starter's top.
func (w Writer) topLine(x plan.Wait) Step {
	return w.put(Step{Name: plan.TopName, Kind: "top", At: x.Likely, Earliest: x.Low, Latest: x.High, Until: x.Until}, said.Say("Top of the starter, likely."))
}

// ripeLine says when the starter that stands there can be used, and how much of it.
func (w Writer) ripeLine(one plan.Plan, a asked) Step {
	u, x := one.Uses, one.Waits[0]
	when := said.Say("from about %v to %v", said.Clock(u.From), said.Clock(u.To))
	if !u.From.After(a.problem.Now) {
		when = said.Say("now, until about %v", said.Clock(u.To))
	}
	text := said.Say("%v is ripe %v: use %v and keep %v.", a.jar.Name, when, said.Grams(u.UseG), said.Grams(u.KeepG))
	at := u.From
	if a.problem.Now.After(at) {
		at = a.problem.Now
	}
	if first := one.Steps[0].At; first.Before(at) {
		at = first // used a little before its peak; the line stands first all the same
	}
	return w.put(Step{Name: plan.TopName, Kind: "top", At: at, Earliest: u.From, Latest: u.To, Until: x.Until}, text)
}

// step says what to do.
func step(s plan.Step, one plan.Plan, a asked) said.Line {
	switch s.Name {
	case plan.OutOfFridge:
		return said.Say("Take the jar out of the fridge.")
	case plan.RefreshFeed:
		g := said.Grams(min(feedmath.WakingG(one.Feed.KeepG), math.Floor(a.haveG())))
		return said.Say("Feed it 1:1:1 to wake it up: keep %v of starter, add %v of flour and %v of water. Go on once it has doubled.", g, g, g)
	case plan.FeedName:
		return said.Say("Feed %v: keep %v of starter, add %v and %v of water.", ratioText(one.Ratio), said.Grams(one.Feed.KeepG), weigh(one.Feed.Flours), said.Grams(one.Feed.WaterG))
	case plan.IntoFridge:
		return said.Say("Put the ripe starter into the fridge.")
	}
	text := said.Say("%v", text.Capital(s.Name))
	if r := doughOf(one, a); len(r.AddsAt(s.Name)) > 0 {
		text = said.Say("%v: %v", text, weigh(adds(r, s.Name)))
		if wantC, waterC, ok := a.water(one); ok && slices.Contains(r.AddsAt(s.Name), plan.AddsWater) {
			text = text.And(said.Say("; water at %v makes a dough of %v", said.Degrees(waterC), said.Degrees(wantC)))
		}
	}
	if !s.OvenOn.IsZero() {
		text = said.Say("Oven on at %v. %v for %v, until it is %v to %v inside", said.Clock(s.OvenOn), text, lasts(s.Until.Sub(s.At)), said.Degrees(bakedFromC), said.Degrees(bakedToC))
	}
	return said.Say("%v.", text)
}

// A loaf is baked through between these, °C in the middle (common practice).
const bakedFromC, bakedToC = 93, 98

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
		text := said.Say("Stretch and fold, %v of %v.", i+1, f.Count)
		if i == 0 && f.Count > 1 {
			text = said.Say("Stretch and fold; then %v more, every %v.", f.Count-1, lasts(f.Every))
		}
		out = append(out, w.put(Step{Name: foldName(i + 1), Kind: "fold", At: at, Earliest: at.Add(-foldSlack), Latest: at.Add(foldSlack), Until: at.Add(foldTakes)}, text))
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

// water is how warm the water must be for the dough to begin as warm as it is kept then;
// false where nothing is to be made of it.
func (a *asked) water(one plan.Plan) (wantC, waterC float64, ok bool) {
	starterC := a.roomC
	for _, x := range one.Waits {
		switch {
		case x.Top && x.Held.IsZero():
			starterC = x.Warmth.C
		case x.Top:
			starterC = coldStarterC
		case !x.Fridge && !x.Cool && x.Name != plan.RefreshWait && x.Warmth.C > 0:
			waterC, _ = feedmath.WaterC(x.Warmth.C, a.roomC, starterC, a.roomC)
			return x.Warmth.C, math.Round(waterC), true
		}
	}
	return 0, 0, false
}

// coldStarterC is a ripe starter's temperature when it comes out of the fridge for the
// mixing.
const coldStarterC = 6

// then says how what follows is kept.
func then(x plan.Wait, a *asked) said.Line {
	with := ""
	if a.shared(x) {
		with = " That mat's thermometer goes with it."
	}
	switch {
	case x.Top, x.Name == plan.RefreshWait:
		return said.Say(" Keep it %v.%v", a.kept(x, x.Warmth), with)
	case x.Cool:
		return nil
	case x.Fridge:
		if !x.Cold.IsZero() && x.Cold.Before(x.Until) {
			return said.Say(" Then %v in the fridge until %v; it goes on rising until it is cold, at about %v.", x.Name, said.Near(x.Until, x.From), said.Near(x.Cold, x.From))
		}
		return said.Say(" Then %v in the fridge until %v.", x.Name, said.Near(x.Until, x.From))
	}
	if x.Rise > 0 {
		return said.Say(" Then %v %v until it has risen by %v, at about %v (%v to %v).%v", x.Name, a.kept(x, x.Warmth), percent(x.Rise), said.Near(x.Likely, x.From), said.Clock(x.Low), said.Clock(x.High), with)
	}
	return said.Say(" Then %v %v; ready at about %v (%v to %v).%v", x.Name, a.kept(x, x.Warmth), said.Near(x.Likely, x.From), said.Clock(x.Low), said.Clock(x.High), with)
}

// sharing says of plans that put something on another vessel's mat what cannot
// be seen from here, and what is done with the mat.
func sharing(plans []plan.Plan, a *asked) (out []said.Line) {
	for _, share := range []struct {
		of, what string
		top      bool
	}{{a.starterMat, "the starter", true}, {a.doughMat, "the dough", false}} {
		if !slices.ContainsFunc(plans, func(p plan.Plan) bool {
			return slices.ContainsFunc(p.Waits, func(x plan.Wait) bool { return a.shared(x) && share.top == (x.Top || x.Name == plan.RefreshWait) })
		}) {
			continue
		}
		does := "A plan that you go by has that mat hold its warmth for as long as it waits there, within the mat's limits, and gives the mat back afterwards"
		if a.ask.ByHand {
			does = "You set that mat yourself, and the plan does not touch it"
		}
		out = append(out, said.Say("Whether %v stands on the mat of %v cannot be seen from here. %v; the mat goes by its own thermometer, which must be with %v.", share.what, share.of, does, share.what))
	}
	return out
}

// busy says why the baker cannot act.
func busy(why string) string {
	if why == plan.NotHome {
		return "while you are away"
	}
	return "while you sleep"
}

// percent is a share to the nearest five in a hundred: no eye tells more of a dough.
func percent(share float64) string { return fmt.Sprintf("%.0f\u00a0%%", 5*math.Round(20*share)) }

// risks says what may go wrong and how likely. A starter that may be dead has
// no numbers.
func risks(one plan.Plan, a asked) []said.Line {
	var out []said.Line
	if a.dead {
		out = append(out, said.Say("Whether it rises at all cannot be put into numbers; all else holds only if it does."))
	}
	sayIf := func(p float64, format string, values ...any) {
		if c := chance(p); c != "" {
			out = append(out, said.Say("%v that %v.", text.Capital(c), said.Say(format, values...)))
		}
	}
	for _, x := range one.Waits {
		if x.Cool || x.Fridge || x.Name == plan.RefreshWait {
			continue // a first rise keeps for half a day
		}
		what, early, late := "the "+x.Name+" is over", "the "+x.Name+" has gone too far", "the "+x.Name+" is not quite over when the dough"
		if x.Top {
			what, early, late = "the top comes", "the starter is past its best", "the starter is not quite ready when it"
		}
		used := x.Until
		if !x.Held.IsZero() {
			used = x.Held
		}
		for _, u := range x.Unseen {
			switch {
			case !u.To.After(used):
				sayIf(u.P, "%v before %v, %v", what, said.Near(u.To, x.From), busy(u.Why))
			case !u.From.Before(used):
				sayIf(u.P, "%v after %v, %v", what, said.Near(u.From, x.From), busy(u.Why))
			}
		}
		sayIf(x.TooEarly, "%v when you come to it", early)
		sayIf(x.TooLate, "%v must go on", late)
	}
	sayIf(one.Late, "the loaf comes late")
	if len(out) == 0 {
		out = append(out, said.Say("Hardly any: whatever comes earlier or later, you are there for it."))
	}
	return out
}

// why says what would come of other choices.
func why(one plan.Plan, a *asked) []said.Line {
	var out []said.Line
	byName := map[string]plan.Wait{}
	for _, x := range one.Waits {
		byName[x.Name] = x
	}
	for _, r := range one.Why {
		x := byName[r.Stage]
		what := "the " + r.Stage + " would be over"
		if x.Top {
			what = "the top would come"
		}
		var otherwise said.Line
		switch {
		case r.Code == plan.OtherRatio:
			otherwise = said.Say("Fed %v", ratioText(r.Ratio))
		case r.Code == plan.NotChilled:
			otherwise = said.Say("Outside the fridge")
		case r.Warmth.Mat:
			otherwise = a.kept(x, r.Warmth).Capital()
		default:
			otherwise = said.Say("In the room (%v)", said.Degrees(r.Warmth.C))
		}
		out = append(out, said.Say("%v %v at about %v%v.", otherwise, what, said.Near(r.At, x.From), verdict(r, x)))
	}
	return out
}

// verdict says what is wrong with the hour of another choice.
func verdict(r plan.Reason, x plan.Wait) string {
	switch {
	case r.Busy != "":
		return ", " + busy(r.Busy)
	case r.At.After(x.Until):
		return fmt.Sprintf(", %s later than this plan has time for", lasts(r.At.Sub(x.Until)))
	case r.At.Before(x.Until):
		return fmt.Sprintf(", %s before it can be used", lasts(x.Until.Sub(r.At)))
	}
	return ", with nothing to spare"
}

// rounded leaves out digits that mean nothing.
func rounded(v float64) float64 { return math.Round(v*1e4) / 1e4 }
