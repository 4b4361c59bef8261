package planning

import (
	"errors"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
)

// refusal says why there is no plan, or no sound one, and what would do; it says nothing
// of a sound one.
func (a *asked) refusal(plans []plan.Plan, none *plan.NoPlanError) (why text.Message, earliest time.Time) {
	by := a.beside("at", a.problem.Ready, a.problem.Now)
	var all []text.Message
	switch {
	case none != nil && len(none.Ratios) > 0:
		return text.Sentences(append([]text.Message{text.Say("plan.none.no_feed"), short(none.Ratios)}, a.instead()...)...), earliest
	case none != nil && !a.problem.Hours.Ever(a.problem.Now, a.problem.Ready):
		all, earliest = append(all, text.Say("plan.none.never_free", by)), none.Earliest
	case none != nil:
		all, earliest = append(all, text.Say("plan.none.no_time", by), a.needed()), none.Earliest
	case len(plans) > 0 && plans[0].Score() < soundFrom:
		all, earliest = append(all, text.Say("plan.none.gamble", by), a.needed()), plan.Earliest(a.problem)
	default:
		return text.Message{}, earliest
	}
	return text.Sentences(append(append(all, a.nearMiss(earliest)), a.instead()...)...), earliest
}

// soundFrom is the score from which a plan is no gamble.
const soundFrom = 60

// needed says for which step the best way would need the baker in the hours of sleep or
// absence, where it is these that stand in the way.
func (a *asked) needed() text.Message {
	step, at, why, ok := a.problem.Needed()
	args := []text.Arg{a.beside("at", at, a.problem.Now), text.Sub("step", text.Stage(step))}
	switch {
	case !ok:
		return text.Message{}
	case why == plan.NotHome:
		return text.Say("plan.none.away", args...)
	}
	return text.Say("plan.none.asleep", args...)
}

// nearMiss says what a little more time, or an earlier morning, would make possible.
func (a *asked) nearMiss(earliest time.Time) text.Message {
	up, early := a.problem.Up()
	soon := !earliest.IsZero() && earliest.Sub(a.problem.Ready) <= 2*time.Hour
	r := a.problem.Ready.In(a.problem.Hours.Zone)
	upAt := text.Time("up", time.Date(r.Year(), r.Month(), r.Day(), up/60, up%60, 0, 0, a.problem.Hours.Zone))
	at := a.beside("at", earliest, a.problem.Now)
	switch {
	case soon && early:
		return text.Say("plan.none.sound_or_up", at, upAt)
	case soon:
		return text.Say("plan.none.sound", at)
	case early:
		return text.Say("plan.none.up", upAt)
	}
	return text.Message{}
}

// sameDay is how near an hour must be for something else to be baked in its place.
const sameDay = 9 * time.Hour

// instead is what can be baked today all the same.
func (a *asked) instead() []text.Message {
	if a.problem.Ready.Sub(a.problem.Now) < sameDay && a.problem.Recipe.Bakes() {
		return []text.Message{text.Say("plan.none.discard")}
	}
	return nil
}

// short says what is lacking, by the ratio that lacks least.
func short(all []error) text.Message {
	var least *plan.ShortError
	for _, err := range all {
		var s *plan.ShortError
		if errors.As(err, &s) && (least == nil || s.NeedG-s.HaveG < least.NeedG-least.HaveG) {
			least = s
		}
	}
	if least == nil {
		return text.Say("plan.step.as_written", text.Name("text", text.Capital(all[len(all)-1].Error())+"."))
	}
	args := []text.Arg{text.Name("ratio", ratioText(least.Ratio)), text.Weight("need", least.NeedG), text.Weight("have", least.HaveG), text.Sub("what", text.Ingredient(least.Of))}
	if least.In == "jar" {
		return text.Say("plan.none.short_jar", args...)
	}
	return text.Say("plan.none.short_house", args...)
}

// grounds says what the times rest on.
func grounds(a asked) text.Message {
	of := text.Say("plan.grounds.published")
	if n := a.record.Model.Feeds(); n > 0 {
		of = text.Say("plan.grounds.feeds", text.Count("n", n))
	}
	first, ok := a.problem.Recipe.FirstRise()
	if !ok {
		return of
	}
	for _, next := range []plan.Next{dough.ColdProof, dough.RoomProof} {
		if own, ok := a.ownStops.Of(a.ask.Recipe, next); ok {
			of = text.Sentences(of, text.Say("plan.grounds.own_stop", text.Share("rise", own.Rise), text.Temp("temp", own.TempC), text.Count("n", own.Best.Best)))
			break
		}
	}
	the := text.Sub("stage", text.TheStage(first.Name))
	switch n := a.doughs.Doughs(); {
	case n > 0:
		return text.Sentences(of, text.Say("plan.grounds.doughs", the, text.Count("n", n)))
	case a.problem.Recipe.Invented:
		return text.Sentences(of, text.Say("plan.grounds.practice", the))
	}
	return of
}

// sharing says of plans that put something on another vessel's mat what cannot
// be seen from here, and what is done with the mat.
func sharing(plans []plan.Plan, a *asked) (out []text.Message) {
	key := "plan.doubt.on_mat"
	if a.ask.ByHand {
		key = "plan.doubt.on_mat_by_hand"
	}
	for _, share := range []struct {
		of, what string
		top      bool
	}{{a.starterMat, "plan.what.starter", true}, {a.doughMat, "plan.what.dough", false}} {
		if slices.ContainsFunc(plans, func(p plan.Plan) bool {
			return slices.ContainsFunc(p.Waits, func(x plan.Wait) bool {
				return a.shared(x) && share.top == (x.Top || x.Name == plan.RefreshWait)
			})
		}) {
			out = append(out, text.Say(key, text.Sub("what", text.Say(share.what)), text.Name("name", share.of)))
		}
	}
	return out
}
