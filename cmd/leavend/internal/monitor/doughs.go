package monitor

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"leavend/peak/dough"
	"leavend/peak/plan"
)

// doughsLearnt is how many of the last doughs are learnt from.
const doughsLearnt = 20

// bowlOf is where dough is mixed into: the bowl on the mat, or else the first;
// false where there is none.
func bowlOf(c *config.Config) (config.Vessel, bool) {
	if on, named := c.Vessel(c.Mat.Vessel); named && on.Kind == config.Bowl {
		return on, true
	}
	i := slices.IndexFunc(c.Vessels, func(v config.Vessel) bool { return v.Kind == config.Bowl })
	if i < 0 {
		return config.Vessel{}, false
	}
	return c.Vessels[i], true
}

// DoughModel learns from the doughs that came to their target in a bowl: when they
// were mixed, how warm they stood, and by which recipe. Without a bowl, or a
// history, it knows what the recipes say.
func DoughModel(ctx context.Context, s *store.Store, c *config.Config) (*dough.Model, error) {
	bowl, ok := bowlOf(c)
	if !ok {
		return dough.New(doubled), nil
	}
	m := dough.New(bowl.TargetRatio)
	if s == nil {
		return m, nil
	}
	mixes, err := s.Journal.Feeds(ctx, store.Query{Vessel: bowl.Slug, Limit: doughsLearnt + 1})
	if err != nil || len(mixes) == 0 {
		return m, err
	}
	events, err := s.Journal.Events(ctx, store.Query{Vessel: bowl.Slug, From: mixes[len(mixes)-1].At})
	if err != nil {
		return m, err
	}
	named, err := BakedBy(ctx, s)
	if err != nil {
		return m, err
	}
	slices.Reverse(mixes)
	for i, mix := range mixes {
		until := time.Time{}
		if i+1 < len(mixes) {
			until = mixes[i+1].At
		}
		at, rise, ok := targetOf(events, mix.At, until)
		if !ok {
			continue
		}
		course, err := courseOf(ctx, s, bowl.Slug, peak.Feed{At: mix.At, PeakAt: at})
		if err != nil {
			return m, err
		}
		m.Learn(dough.Past{Recipe: recipeOf(c, named(mix.At), mix), At: mix.At, Course: course, Rise: rise, After: at.Sub(mix.At)})
	}
	return m, nil
}

// targetOf finds when a dough that was mixed at a moment came to its target.
func targetOf(events []store.Event, mixed, until time.Time) (at time.Time, rise float64, ok bool) {
	for _, e := range events {
		data := dataOf(e)
		if event.Kind(e.Kind) == event.Target && data.RiseRatio != nil && data.PeakAt.After(mixed) && (until.IsZero() || data.PeakAt.Before(until)) {
			return data.PeakAt, *data.RiseRatio, true
		}
	}
	return at, 0, false
}

// PlanSetting is the name under which the store keeps the plans that were
// chosen, one after the other.
const PlanSetting = "plan"

// BakedBy looks up by which chosen plan a dough was mixed; "" where there was
// none.
func BakedBy(ctx context.Context, s *store.Store) (func(mixed time.Time) string, error) {
	settings, err := s.States.Settings(ctx)
	if err != nil {
		return nil, err
	}
	type choice struct {
		made, ready time.Time
		recipe      string
	}
	var all []choice
	for _, one := range settings {
		var plan struct {
			Ask struct {
				Ready  time.Time `json:"ready"`
				Recipe string    `json:"recipe"`
			} `json:"ask"`
		}
		if one.Name == PlanSetting && json.Unmarshal(one.Value, &plan) == nil {
			all = append(all, choice{one.Made, plan.Ask.Ready, plan.Ask.Recipe})
		}
	}
	return func(mixed time.Time) string {
		for _, c := range all { // the newest first
			if mixed.After(c.made) && mixed.Before(c.ready) {
				return c.recipe
			}
		}
		return ""
	}, nil
}

// doubled is the rise ratio that a dough is taken to be meant for where no bowl names one.
const doubled = 2

// recipeOf is the word on a dough: the recipe's first rise. Of a mix without a
// plan it is common practice for its weights.
func recipeOf(c *config.Config, name string, mix store.Feed) dough.Recipe {
	if r, ok := c.Plan.FindRecipe(name); ok && name != "" {
		if s, ok := r.FirstRise(); ok {
			return StageRecipe(r, s)
		}
	}
	if flour := mix.FlourG(); mix.KeptG > 0 && flour > 0 {
		return dough.Practice(mix.KeptG / flour)
	}
	r, _ := c.Plan.FindRecipe("")
	if s, ok := r.FirstRise(); ok {
		return StageRecipe(r, s)
	}
	return dough.Practice(0)
}

// RyeMix reports whether a dough was mixed mostly of rye.
func RyeMix(mix store.Feed) bool {
	var flours []plan.Flour
	for _, f := range mix.Flours {
		flours = append(flours, plan.Flour(f))
	}
	return plan.MostlyRye(flours)
}

// KindOf is what kind of loaf a mix becomes that belongs to no plan, by its weights: of the
// recipe that they are nearest to, if they are near. Whether it is for the fridge they do
// not say.
func (l Loaves) KindOf(mix store.Feed) LoafKind {
	kind, nearest := LoafKind{Rye: RyeMix(mix)}, 1.0
	flour := mix.FlourG()
	if !(flour > 0 && mix.KeptG > 0 && mix.WaterG > 0) {
		return kind
	}
	for _, r := range l.m.Effective().Plan.Recipes {
		if !(r.FlourG() > 0) || plan.MostlyRye(r.Flours) != RyeMix(mix) {
			continue
		}
		share := math.Log(mix.KeptG/flour/r.Share()) / sameShare
		water := (mix.WaterG/flour - r.WaterG/r.FlourG()) / sameWater
		if off := math.Hypot(share, water); off < nearest {
			kind, nearest = LoafKind{Recipe: r.Name}, off
		}
	}
	return kind
}

// How far a mix may be off a recipe: the logarithm of its share of starter, and its water as
// a share of the flour. Both are guesses: who bakes by a recipe weighs nearly that.
const sameShare, sameWater = 0.15, 0.02

// StageRecipe is what a recipe says of a stage.
func StageRecipe(r plan.Recipe, s plan.Stage) dough.Recipe {
	word := dough.Recipe{Name: r.Name, Time: s.Time, AtC: s.AtC, Tried: !r.Invented}
	if s.To > 0 || r.Invented || plan.MostlyRye(r.Flours) {
		word.Rise = 1 + r.Rises(s)
	}
	return word
}

// BowlHalf is in what time a bowl of dough comes half of the way to another
// warmth: a guess for one or two kilos.
const BowlHalf = time.Hour

// DoughDoubtC is how far the warmth of a dough is known hours ahead: a guess, with
// which RESULTS.md of package dough was scored.
const DoughDoubtC = 1
