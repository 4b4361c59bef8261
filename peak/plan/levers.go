package plan

import (
	"math"
	"slices"
	"time"

	"leavend/peak/dough"
)

// The levers that bakers use where a recipe as it stands does not fit the day: more or
// less starter, and the bulk in the fridge. A plan pulls one only where nothing else
// is good.

// shares are the starter's, of the flour that is added (common practice: 5 to 30 %).
var shares = []float64{0.05, 0.1, 0.2, 0.3}

// ChillName and ColdBulkName are the stages that a bulk in the fridge adds.
const (
	ChillName    = "dough into the fridge"
	ColdBulkName = "bulk in the fridge"
)

// A bulk in the fridge is for a night or a day, and the shaped dough then needs longer,
// for it comes out cold (common practice).
const (
	coldBulkShortest, coldBulkLongest = 8 * time.Hour, 24 * time.Hour
	coldBulkProof                     = 90 * time.Minute
)

// Share is the starter's weight, as a share of the flour that is added.
func (r Recipe) Share() float64 {
	if f := r.FlourG(); f > 0 {
		return r.StarterG / f
	}
	return 0
}

// WithStarter returns the recipe with another share of starter, at the same weight and
// hydration of dough. The first rise takes longer or shorter by the generations that
// the culture must grow; what comes after finds as many. The starter is taken to be half water.
func (r Recipe) WithStarter(share float64) Recipe {
	was := r.Share()
	if !(share > 0 && was > 0) || math.Abs(share-was) < 1e-9 {
		return r
	}
	flour, water := r.FlourG()+r.StarterG/2, r.WaterG+r.StarterG/2
	added := flour / (1 + share/2)
	out := r.scaled(added / r.FlourG())
	out.SaltG = r.SaltG
	out.StarterG = math.Round(share * added)
	out.WaterG = math.Round(water - share*added/2)
	longer := float64(dough.Practice(share).Time) / float64(dough.Practice(was).Time)
	if i := slices.IndexFunc(out.Stages, func(s Stage) bool { return s.Kind == Rise }); i >= 0 {
		out.Stages[i].Time = time.Duration(longer * float64(out.Stages[i].Time)).Round(time.Minute)
	}
	return out
}

// Times returns the recipe for so many times the dough: two loaves, or a larger one.
func (r Recipe) Times(n float64) Recipe {
	if !(n > 0) || n == 1 {
		return r
	}
	return r.scaled(n)
}

// scaled multiplies the weights, and gives the recipe stages of its own to change.
func (r Recipe) scaled(n float64) Recipe {
	r.Flours, r.Stages = slices.Clone(r.Flours), slices.Clone(r.Stages)
	for i := range r.Flours {
		r.Flours[i].Grams = math.Round(n * r.Flours[i].Grams)
	}
	r.WaterG, r.StarterG = math.Round(n*r.WaterG), math.Round(n*r.StarterG)
	r.SaltG = math.Round(10*n*r.SaltG) / 10
	return r
}

// ForStarter corrects flour and water for a starter that is stiffer or wetter than half
// water, so that the dough stays what it is. hydration is the starter's water over its
// flour.
func (r Recipe) ForStarter(hydration float64) Recipe {
	if !(hydration > 0) || math.Abs(hydration-1) < 0.05 || r.FlourG() == 0 {
		return r
	}
	more := r.StarterG/(1+hydration) - r.StarterG/2 // flour that such a starter brings beyond the usual
	out := r.scaled((r.FlourG() - more) / r.FlourG())
	out.StarterG, out.SaltG, out.WaterG = r.StarterG, r.SaltG, math.Round(r.WaterG+more)
	return out
}

// WithColdBulk returns the recipe with its bulk ended early and put into the fridge;
// false where it has none, or cannot.
func (r Recipe) WithColdBulk() (Recipe, bool) {
	b, ok := r.bulk()
	if !ok || slices.ContainsFunc(r.Stages, func(s Stage) bool { return s.Name == ColdBulkName }) {
		return r, ok
	}
	var out []Stage
	for _, s := range r.Stages {
		after := len(out) > 0 && slices.ContainsFunc(out, func(s Stage) bool { return s.Name == ColdBulkName })
		if after && s.Kind == Rise {
			s.Time += coldBulkProof
			s.FridgeShortest, s.FridgeLongest = 0, 0
		}
		if out = append(out, s); s.Name == b.Name {
			out = append(out, Stage{Name: ChillName, Kind: Hands, Time: Slot})
			out = append(out, Stage{Name: ColdBulkName, Kind: Rise, Time: b.Time, AtC: b.AtC, FridgeShortest: coldBulkShortest, FridgeLongest: coldBulkLongest})
		}
	}
	r.Stages = out
	return r, true
}

// levers are the problem once for each lever that may be pulled.
func (p Problem) levers() []variant {
	if p.Fixed || p.Running != nil {
		return nil
	}
	var out []variant
	was := p.Recipe.Share()
	for _, share := range shares {
		if was == 0 || math.Abs(math.Log(share/was)) < 0.2 {
			continue
		}
		q := variant{Problem: p}
		q.Recipe, q.share, q.lever = p.Recipe.WithStarter(share), share, perShare*math.Abs(math.Log(share/was))
		out = append(out, q)
	}
	if cold, ok := p.Recipe.WithColdBulk(); ok && p.Stop != nil {
		q := variant{Problem: p}
		q.Recipe, q.coldBulk, q.lever = cold, true, coldBulkCost
		out = append(out, q)
	}
	return out
}
