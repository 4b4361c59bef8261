package planning

import (
	"math"
	"time"

	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
	"leavend/peak/timetopeak"
)

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
	out := plan.Amounts{KeepG: last.Kept.Grams, WaterG: last.WaterG}
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
