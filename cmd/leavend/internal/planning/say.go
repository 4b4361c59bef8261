package planning

import (
	"fmt"
	"math"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// Writer puts plans into words for one reader.
type Writer struct{ text.Reader }

// says is a sentence for the page and for whoever reads the API.
func (w Writer) says(m text.Message) Said { return Said{Text: m.In(w.Reader), Say: m} }

// beside is a time of day, with its day of the week where that is not the one of from. Where
// the day of the week alone could be another week's, the date stands with it.
func beside(name string, t, from time.Time, zone *time.Location) text.Arg {
	key := "time.that_day"
	switch {
	case from.IsZero() || dayOf(t, zone) == dayOf(from, zone):
	case t.Sub(from).Abs() >= 6*24*time.Hour:
		key = "time.that_date"
	default:
		key = "time.that_week"
	}
	return text.Sub(name, text.Say(key, text.Time("at", t)))
}

func dayOf(t time.Time, zone *time.Location) string { return t.In(zone).Format(time.DateOnly) }

// beside is a time of day beside another, by the kitchen's clock.
func (a *asked) beside(name string, t, from time.Time) text.Arg {
	return beside(name, t, from, a.problem.Hours.Zone)
}

// chance is a probability as a person says it; false for next to none.
func chance(p float64) (text.Message, bool) {
	tenths := []string{"", "plan.chance.n1", "plan.chance.n2", "plan.chance.n3", "plan.chance.n4", "plan.chance.n5", "plan.chance.n6", "plan.chance.n7", "plan.chance.n8", "plan.chance.n9"}
	switch n := int(math.Round(10 * p)); {
	case p < 0.03:
		return text.Message{}, false
	case p < 0.075:
		return text.Say("plan.chance.twentieth"), true
	case n >= 10:
		return text.Say("plan.chance.sure"), true
	default:
		return text.Say(tenths[max(n, 1)]), true
	}
}

// kept says where something stands. A mat of another vessel is called by its name.
func (a *asked) kept(x plan.Wait, w plan.Warmth) text.Message {
	of := a.matOf(x)
	switch {
	case w.Mat && of != "":
		return text.Say("plan.kept.mat_of", text.Name("name", of), text.Temp("temp", w.C))
	case w.Mat:
		return text.Say("plan.kept.mat", text.Temp("temp", w.C))
	}
	return text.Say("plan.kept.room", text.Temp("temp", w.C), known(a.roomKnown))
}

// known says of a number whether it was measured in this kitchen.
func known(measured bool) text.Arg {
	if measured {
		return text.Sub("known", text.Say("plan.known.measured"))
	}
	return text.Sub("known", text.Say("plan.known.assumed"))
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
func weigh(all []plan.Flour) (out []text.Message) {
	for _, f := range all {
		if f.Grams > 0 {
			out = append(out, text.Say("plan.step.weight", text.Weight("grams", f.Grams), text.Sub("what", text.Ingredient(f.Kind))))
		}
	}
	return out
}

// busy says why the baker cannot act.
func busy(why string) text.Arg {
	if why == plan.NotHome {
		return text.Sub("busy", text.Say("plan.busy.away"))
	}
	return text.Sub("busy", text.Say("plan.busy.asleep"))
}

// fives is a share to the nearest five in a hundred: no eye tells more of a dough.
func fives(share float64) float64 { return math.Round(20*share) / 20 }

// rounded leaves out digits that mean nothing.
func rounded(v float64) float64 { return math.Round(v*1e4) / 1e4 }

// ratioText writes a ratio as bakers do.
func ratioText(r plan.Ratio) string { return fmt.Sprintf("1:%.3g:%.3g", r.Flour, r.Water) }
