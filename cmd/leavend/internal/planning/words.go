package planning

import (
	"fmt"
	"slices"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

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
	var why text.Message
	if why, s.Earliest = a.refusal(plans, none); !why.IsZero() {
		s.NoPlan = new(w.says(why))
	}
	return s
}

// plan is one plan, line by line.
func (w Writer) plan(id string, one plan.Plan, a asked) Plan {
	out := Plan{ID: id, Score: one.Score(), Ratio: ratioText(one.Ratio), Loaf: one.Loaf, Risks: []Said{}, Why: []Said{}, Late: new(rounded(one.Late))}
	for _, r := range risks(one, a) {
		out.Risks = append(out.Risks, w.says(r))
	}
	for _, r := range because(one, &a) {
		out.Why = append(out.Why, w.says(r))
	}
	out.Steps = w.steps(one, a)
	if a.dead {
		out.Late = nil
	}
	return out
}

// steps are a plan's lines, the loaf last.
func (w Writer) steps(one plan.Plan, a asked) []Step {
	waits := one.Waits
	var out []Step
	if a.problem.Running != nil && len(waits) > 0 {
		// It runs already; its line is that of a step that is done.
		if waits[0].Top {
			out = append(out, w.peakLine(waits[0]))
		}
		out = append(out, w.folds(waits[0], a.problem.Running.Began, one, a)...)
		waits = waits[1:]
	}
	if one.Uses != nil {
		out = append(out, w.ripeLine(one, a))
		waits = one.Waits[1:]
	}
	for _, s := range one.Steps {
		if len(waits) > 0 && waits[0].From.Equal(s.Until) && s.Name != plan.IntoFridge {
			out = append(out, w.stepThen(s, waits[0], one, a)...)
			waits = waits[1:]
			continue
		}
		out = append(out, w.put(lineOf(s), step(s, one, a)))
	}
	out = append(out, w.put(Step{Name: plan.LoafName, Kind: "loaf", At: one.Loaf, Earliest: one.Loaf, Latest: one.Loaf, Until: one.Loaf}, a.isDone()))
	slices.SortStableFunc(out, func(a, b Step) int { return a.At.Compare(b.At) }) // the peak may be likely after the mixing
	return out
}

func lineOf(s plan.Step) Step {
	return Step{Name: s.Name, Kind: "do", At: s.At, Earliest: s.Earliest, Latest: s.Latest, Until: s.Until, OvenOn: s.OvenOn}
}

// stepThen is a step with the wait that follows: the wait belongs to the line.
func (w Writer) stepThen(s plan.Step, x plan.Wait, one plan.Plan, a asked) []Step {
	line := lineOf(s)
	if !x.Cool {
		line.Mat, line.Fridge = x.Warmth.Mat && !x.Fridge, x.Fridge
	}
	if !x.Cool && !x.Fridge {
		line.WarmthC = new(x.Warmth.C)
	}
	out := []Step{w.put(line, text.Sentences(append([]text.Message{step(s, one, a)}, then(x, &a)...)...))}
	out = append(out, w.folds(x, x.From, one, a)...)
	if x.Top {
		out = append(out, w.peakLine(x))
	}
	return out
}

// isDone is the last line.
func (a *asked) isDone() text.Message {
	switch {
	case !a.problem.Recipe.Bakes():
		return text.Say("plan.step.ready")
	case a.ask.Cooled:
		return text.Say("plan.step.loaf_cooled")
	}
	return text.Say("plan.step.loaf")
}

// put puts a sentence into a step.
func (w Writer) put(s Step, m text.Message) Step {
	s.Text, s.Say = m.In(w.Reader), m
	return s
}

// Again writes what was said of a plan again, for another reader than
// the one it was made for.
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

// peakLine is the line of the starter's peak.
func (w Writer) peakLine(x plan.Wait) Step {
	return w.put(Step{Name: plan.TopName, Kind: "top", At: x.Likely, Earliest: x.Low, Latest: x.High, Until: x.Until}, text.Say("plan.step.peak"))
}

// ripeLine says when the starter that stands there can be used, and how much of it.
func (w Writer) ripeLine(one plan.Plan, a asked) Step {
	u, x := one.Uses, one.Waits[0]
	args := []text.Arg{text.Name("name", a.jar.Name), text.Time("from", u.From), text.Time("to", u.To), text.Weight("use", u.UseG), text.Weight("keep", u.KeepG)}
	says := text.Say("plan.step.ripe", args...)
	if !u.From.After(a.problem.Now) {
		says = text.Say("plan.step.ripe_now", args...)
	}
	at := u.From
	if a.problem.Now.After(at) {
		at = a.problem.Now
	}
	if first := one.Steps[0].At; first.Before(at) {
		at = first // used a little before its peak; the line stands first all the same
	}
	return w.put(Step{Name: plan.TopName, Kind: "top", At: at, Earliest: u.From, Latest: u.To, Until: x.Until}, says)
}
