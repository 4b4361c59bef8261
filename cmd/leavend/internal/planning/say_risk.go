package planning

import (
	"slices"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// risks says what may go wrong and how likely. A starter that may be dead has
// no numbers.
func risks(one plan.Plan, a asked) []text.Message {
	var out []text.Message
	if a.dead {
		out = append(out, text.Say("plan.risk.dead"))
	}
	add := func(p float64, what text.Message) {
		if c, ok := chance(p); ok {
			out = append(out, text.Say("plan.risk.that", text.Sub("chance", c), text.Sub("what", what)))
		}
	}
	keeps := false
	for _, x := range one.Waits {
		if x.Cool || x.Fridge || x.Name == plan.RefreshWait {
			continue // a first rise keeps for half a day
		}
		a.riskOf(x, add)
		keeps = keeps || slices.ContainsFunc(x.Unseen, func(u plan.Unseen) bool { return keepsUntilUsed(x, u) })
	}
	add(one.Late, text.Say("plan.risk.loaf_late"))
	switch {
	case len(out) > 0:
	case keeps:
		out = append(out, text.Say("plan.risk.keeps"))
	default:
		out = append(out, text.Say("plan.risk.none"))
	}
	return out
}

// riskOf adds what may go wrong with one wait. What is over while the baker sleeps or is
// away is no risk where it is still good when he comes to it.
func (a *asked) riskOf(x plan.Wait, add func(float64, text.Message)) {
	before, after, early, late := "plan.risk.rise_before", "plan.risk.rise_after", "plan.risk.rise_early", "plan.risk.rise_late"
	if x.Top {
		before, after, early, late = "plan.risk.peak_before", "plan.risk.peak_after", "plan.risk.peak_early", "plan.risk.peak_late"
	}
	the := text.Sub("stage", text.TheStage(x.Name))
	used := usedAt(x)
	for _, u := range x.Unseen {
		switch {
		case keepsUntilUsed(x, u):
		case !u.To.After(used):
			add(u.P, text.Say(before, the, a.beside("at", u.To, x.From), busy(u.Why)))
		case !u.From.Before(used):
			add(u.P, text.Say(after, the, a.beside("at", u.From, x.From), busy(u.Why)))
		}
	}
	add(x.TooEarly, text.Say(early, the))
	add(x.TooLate, text.Say(late, the))
}

// usedAt is when the baker comes to what a wait made.
func usedAt(x plan.Wait) time.Time {
	if !x.Held.IsZero() {
		return x.Held
	}
	return x.Until
}

// keepsUntilUsed reports whether what is over in some hours that the baker does not see is
// still good, in two cases of three, when he comes to it.
func keepsUntilUsed(x plan.Wait, u plan.Unseen) bool {
	return !u.To.After(usedAt(x)) && x.TooEarly < u.P/3
}

// because says why the plan is as it is: what it changes in the recipe, and what would come
// of other choices.
func because(one plan.Plan, a *asked) []text.Message {
	var out []text.Message
	if one.Share > 0 {
		out = append(out, text.Say("plan.because.share", text.Share("share", fives(one.Share)), text.Share("was", fives(a.problem.Recipe.Share()))))
	}
	if one.ColdBulk {
		out = append(out, text.Say("plan.because.cold_bulk"))
	}
	byName := map[string]plan.Wait{}
	for _, x := range one.Waits {
		byName[x.Name] = x
	}
	for _, r := range one.Why {
		x := byName[r.Stage]
		args := []text.Arg{text.Sub("otherwise", a.otherwise(r, x)), text.Sub("stage", text.TheStage(r.Stage)), a.beside("at", r.At, x.From), text.Sub("verdict", verdict(r, x))}
		if x.Top {
			out = append(out, text.Say("plan.because.peak", args...))
			continue
		}
		out = append(out, text.Say("plan.because.rise", args...))
	}
	return out
}

// otherwise is the other choice.
func (a *asked) otherwise(r plan.Reason, x plan.Wait) text.Message {
	switch {
	case r.Code == plan.OtherRatio:
		return text.Say("plan.because.fed", text.Name("ratio", ratioText(r.Ratio)))
	case r.Code == plan.NotChilled:
		return text.Say("plan.because.not_chilled")
	case r.Warmth.Mat:
		return a.kept(x, r.Warmth)
	}
	return text.Say("plan.because.in_room", text.Temp("temp", r.Warmth.C))
}

// verdict says what is wrong with the hour of another choice.
func verdict(r plan.Reason, x plan.Wait) text.Message {
	switch {
	case r.Busy != "":
		return text.Say("plan.because.busy", busy(r.Busy))
	case r.At.After(x.Until):
		return text.Say("plan.because.later", text.Duration("span", r.At.Sub(x.Until)))
	case r.At.Before(x.Until):
		return text.Say("plan.because.sooner", text.Duration("span", x.Until.Sub(r.At)))
	}
	return text.Say("plan.because.just")
}
