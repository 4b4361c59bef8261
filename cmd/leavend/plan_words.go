package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/web"
	"leavend/peak/plan"
)

// planWords puts plans into a baker's plain English. Everything a plan says is
// in this file.
type planWords struct {
	zone    *time.Location
	hours12 bool
	us      bool // °F and ounces
}

// clock is a time of day.
func (w planWords) clock(t time.Time) string {
	if w.hours12 {
		return t.In(w.zone).Format("3:04 pm")
	}
	return t.In(w.zone).Format("15:04")
}

// day is a date in words.
func (w planWords) day(t time.Time) string { return t.In(w.zone).Format("Mon 2 Jan") }

// near is a time of day, with its day where that is not the one of from.
func (w planWords) near(t, from time.Time) string {
	if w.day(t) == w.day(from) {
		return w.clock(t)
	}
	return t.In(w.zone).Format("Mon ") + w.clock(t)
}

func (w planWords) degrees(c float64) string {
	if w.us {
		return fmt.Sprintf("%.0f °F", c*9/5+32)
	}
	return fmt.Sprintf("%.4g °C", c)
}

func (w planWords) grams(g float64) string {
	if w.us {
		return fmt.Sprintf("%.1f oz", g/28.349523125)
	}
	return fmt.Sprintf("%.0f g", g)
}

// hours is a length of time.
func (w planWords) hours(d time.Duration) string {
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

// kept says where something stands.
func (w planWords) kept(x plan.Warmth) string {
	if x.Mat {
		return "on the mat at " + w.degrees(x.C)
	}
	return "in the room, about " + w.degrees(x.C)
}

// list writes flours.
func (w planWords) list(flours []plan.Flour) string {
	var out []string
	for _, f := range flours {
		out = append(out, w.grams(f.Grams)+" of "+f.Kind)
	}
	return strings.Join(out, ", ")
}

// sheet is the whole answer.
func (w planWords) sheet(p planner, a asked, plans []plan.Plan, none *plan.NoPlanError) web.PlanSheet {
	s := web.PlanSheet{
		Ask: a.ask, Name: a.jar.Name, Invented: a.problem.Recipe.Invented, Doubts: a.doubts, Plans: []web.Plan{},
		Recipes: p.conf.Plan.RecipeNames(), MadeAt: a.problem.Now, RoomC: web.Real(a.roomC), FeedsUsed: a.record.Model.Feeds(),
	}
	s.Grounds = w.grounds(a)
	if s.Doubts == nil {
		s.Doubts = []string{}
	}
	for i, one := range plans {
		s.Plans = append(s.Plans, w.plan(fmt.Sprint(i+1), one, a))
	}
	switch {
	case none != nil && len(none.Ratios) > 0:
		s.NoPlan = fmt.Sprintf("No feed makes the starter for this bread. %v.", none.Ratios[len(none.Ratios)-1])
	case none != nil:
		s.NoPlan = fmt.Sprintf("There is no way to the %s by %s: too little time, with your hours of sleep and absence.", a.problem.Recipe.Name, w.near(a.problem.Ready, a.problem.Now))
		s.Earliest = none.Earliest
	case len(plans) > 0 && plans[0].Score() < 60:
		s.NoPlan = fmt.Sprintf("There is no sound way to the %s by %s; the best there is a gamble.", a.problem.Recipe.Name, w.near(a.problem.Ready, a.problem.Now))
		s.Earliest = plan.Earliest(a.problem)
	}
	return s
}

// grounds says what the times rest on.
func (w planWords) grounds(a asked) string {
	switch n := a.record.Model.Feeds(); n {
	case 0:
		return "The times rest on published growth rates and the trade's usual times, not on this starter."
	case 1:
		return "The times rest on one past feed of this starter and on published growth rates."
	default:
		return fmt.Sprintf("The times rest on %d past feeds of this starter.", n)
	}
}

// plan is one plan, line by line.
func (w planWords) plan(id string, one plan.Plan, a asked) web.Plan {
	out := web.Plan{ID: id, Score: one.Score(), Ratio: ratioText(one.Ratio), Loaf: one.Loaf, Risks: w.risks(one), Why: w.why(one), Late: new(web.Real(one.Late))}
	wait := 0
	if a.problem.Running != nil && len(one.Waits) > 0 {
		wait = 1 // it runs already; its line is that of a step that is done
		if one.Waits[0].Top {
			out.Steps = append(out.Steps, topLine(one.Waits[0]))
		}
	}
	for _, s := range one.Steps {
		line := web.PlanStep{Name: s.Name, Kind: "do", At: s.At, Earliest: s.Earliest, Latest: s.Latest, Until: s.Until, OvenOn: s.OvenOn}
		line.Text = w.step(s, one, a)
		// The wait that follows belongs to the line.
		if wait < len(one.Waits) && one.Waits[wait].From.Equal(s.Until) && s.Name != plan.IntoFridge {
			x := one.Waits[wait]
			wait++
			line.Text += w.then(x)
			if !x.Cool {
				line.Mat, line.Fridge = x.Warmth.Mat && !x.Fridge, x.Fridge
			}
			if !x.Cool && !x.Fridge {
				line.WarmthC = new(web.Real(x.Warmth.C))
			}
			out.Steps = append(out.Steps, line)
			if x.Top {
				out.Steps = append(out.Steps, topLine(x))
			}
			continue
		}
		out.Steps = append(out.Steps, line)
	}
	done := "The loaf is out of the oven."
	if a.ask.Cooled {
		done = "The loaf is out of the oven and has cooled."
	}
	out.Steps = append(out.Steps, web.PlanStep{Name: "loaf", Kind: "loaf", Text: done, At: one.Loaf, Earliest: one.Loaf, Latest: one.Loaf, Until: one.Loaf})
	slices.SortStableFunc(out.Steps, func(a, b web.PlanStep) int { return a.At.Compare(b.At) }) // the top may be likely after the mixing
	return w.doubtful(out, a)
}

// topLine is the line of the starter's top.
func topLine(x plan.Wait) web.PlanStep {
	return web.PlanStep{Name: plan.TopName, Kind: "top", Text: "Top of the starter, likely.", At: x.Likely, Earliest: x.Low, Latest: x.High, Until: x.Until}
}

// doubtful takes the numbers off a plan for a starter that may be dead.
func (w planWords) doubtful(p web.Plan, a asked) web.Plan {
	if a.dead {
		p.Late = nil
		p.Risks = append([]string{"Whether it rises at all nobody can put into numbers; all else holds only if it does."}, p.Risks...)
	}
	return p
}

// step says what to do.
func (w planWords) step(s plan.Step, one plan.Plan, a asked) string {
	switch s.Name {
	case plan.OutOfFridge:
		return "Take the jar out of the fridge."
	case plan.RefreshFeed:
		return "Feed it once, 1:1:1, to see it rise."
	case plan.FeedName:
		return fmt.Sprintf("Feed %s: keep %s of starter, add %s and %s of water.", ratioText(one.Ratio), w.grams(one.Feed.KeepG), w.list(one.Feed.Flours), w.grams(one.Feed.WaterG))
	case plan.IntoFridge:
		return "Put the ripe starter into the fridge."
	}
	text := capital(s.Name)
	if r := a.problem.Recipe; s.Name == r.Stages[0].Name {
		text += fmt.Sprintf(": %s of ripe starter, %s, %s of water, %s of salt", w.grams(r.StarterG), w.list(r.Flours), w.grams(r.WaterG), w.grams(r.SaltG))
	}
	if !s.OvenOn.IsZero() {
		text = fmt.Sprintf("Oven on at %s. %s for %s", w.clock(s.OvenOn), text, w.hours(s.Until.Sub(s.At)))
	}
	return text + "."
}

// then says how what follows is kept.
func (w planWords) then(x plan.Wait) string {
	switch {
	case x.Top, x.Name == plan.RefreshWait:
		return fmt.Sprintf(" Keep it %s.", w.kept(x.Warmth))
	case x.Cool:
		return ""
	case x.Fridge:
		return fmt.Sprintf(" Then %s in the fridge until %s.", x.Name, w.near(x.Until, x.From))
	}
	return fmt.Sprintf(" Then %s %s; ready at about %s (%s to %s).", x.Name, w.kept(x.Warmth), w.near(x.Likely, x.From), w.clock(x.Low), w.clock(x.High))
}

// busy says why nobody can act.
func busy(why string) string {
	if why == plan.NotHome {
		return "while you are away"
	}
	return "while you sleep"
}

// risks says what may go wrong and how likely.
func (w planWords) risks(one plan.Plan) []string {
	out := []string{}
	say := func(p float64, format string, args ...any) {
		if c := chance(p); c != "" {
			out = append(out, capital(c)+" that "+fmt.Sprintf(format, args...)+".")
		}
	}
	for _, x := range one.Waits {
		if x.Cool || x.Fridge || x.Name == plan.RefreshWait {
			continue // a first rise keeps for half a day
		}
		what := "the " + x.Name + " is over"
		if x.Top {
			what = "the top comes"
		}
		used := x.Until
		if !x.Held.IsZero() {
			used = x.Held
		}
		for _, u := range x.Unseen {
			switch {
			case !u.To.After(used):
				say(u.P, "%s before %s, %s", what, w.near(u.To, x.From), busy(u.Why))
			case !u.From.Before(used):
				say(u.P, "%s after %s, %s", what, w.near(u.From, x.From), busy(u.Why))
			}
		}
		name := "the dough is"
		if x.Top {
			name = "the starter is"
		}
		say(x.TooEarly, "%s past its best when you come to it", name)
		say(x.TooLate, "%s not quite ready when it must go on", name)
	}
	say(one.Late, "the loaf comes late")
	if len(out) == 0 {
		out = append(out, "Hardly any: whatever comes earlier or later, you are there for it.")
	}
	return out
}

// why says what would come of other choices.
func (w planWords) why(one plan.Plan) []string {
	out := []string{}
	byName := map[string]plan.Wait{}
	for _, x := range one.Waits {
		byName[x.Name] = x
	}
	for _, r := range one.Why {
		x := byName[r.Stage]
		at := w.near(r.At, x.From)
		verdict := ""
		switch {
		case r.Busy != "":
			verdict = ", " + busy(r.Busy)
		case r.At.After(x.Until):
			verdict = fmt.Sprintf(", %s later than this plan has time for", w.hours(r.At.Sub(x.Until)))
		case r.At.Before(x.Until):
			verdict = fmt.Sprintf(", %s before it can be used", w.hours(x.Until.Sub(r.At)))
		}
		switch r.Code {
		case plan.OtherRatio:
			out = append(out, fmt.Sprintf("Fed %s the top would come at about %s%s.", ratioText(r.Ratio), at, verdict))
		case plan.OtherWarmth:
			what := "the " + r.Stage + " would be over"
			if x.Top {
				what = "the top would come"
			}
			out = append(out, fmt.Sprintf("%s %s at about %s%s.", capital(strings.Replace(w.kept(r.Warmth), ", about ", " at ", 1)), what, at, verdict))
		case plan.NotChilled:
			out = append(out, fmt.Sprintf("Outside the fridge the %s would be over at about %s%s.", r.Stage, at, verdict))
		}
	}
	return out
}
