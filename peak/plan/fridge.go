package plan

import (
	"math"
	"time"

	"leavend/peak"
	"leavend/peak/dough"
)

// Dough goes on rising in the fridge until it is cold, which takes hours. How far it has
// come when it comes out is held against what a good bulk before a night there comes to
// (dough.Whole).

// Dough out of the fridge is as good while it has risen so much less or more in all, as
// shares of what is meant; at twice that it is spoilt (a guess).
const wholeLess, wholeMore = 0.3, 0.25

// doubles is how many hours at 25 °C a bulk at a warmth takes to double.
func (v variant) doubles(b Stage, c float64) float64 {
	took := float64(doughTime(b, c)) * dough.Scale(1, v.Recipe.Rises(b))
	if v.Dough != nil {
		if r := v.Dough(b, c, 1); r != nil {
			took = float64(r(0.5))
		}
	}
	return time.Duration(took).Hours() * peak.Pace(c)
}

// whole is by which share a dough has risen in all after a bulk at a warmth and a stay in
// the fridge, and by which it should have; false where nothing is known of that.
func (v variant) whole(bulkC float64, stay time.Duration) (rise, meant float64, ok bool) {
	b, ok := v.Recipe.bulk()
	if !ok || v.Fridge == nil {
		return 0, 0, false
	}
	ended, stop := v.rise(b, bulkC), v.Stop
	if ended == 0 {
		ended, stop = v.Recipe.Rises(b), dough.UsualStops().Rise
	}
	rise = dough.Risen(ended, v.Fridge.WarmHours(bulkC, stay), v.doubles(b, bulkC))
	return rise, dough.Whole(stop(bulkC, v.Recipe.EndsFor(dough.ColdProof)), bulkC), true
}

// overCold is what it costs that dough comes out of the fridge risen too far, or too
// little, after a number of slots there.
func (v variant) overCold(slots int) float64 {
	if v.bulkAt == nil {
		return 0
	}
	rise, meant, ok := v.whole(v.bulkAt.C, time.Duration(slots)*Slot)
	if !ok {
		return 0
	}
	off := rise/meant - 1
	past := max(off-wholeMore, 0) / wholeMore
	if off < 0 {
		past = max(-off-wholeLess, 0) / wholeLess
	}
	return min(edgeCost*past, failed)
}

// coldStay is the curve of a stay of dough in the fridge.
func (v variant) coldStay(s Stage) *curve {
	c := stay(s.FridgeShortest, s.FridgeLongest, 0)
	for k := range c.cost {
		c.cost[k] += v.overCold(c.from + k)
	}
	return c
}

// chilled notes when dough in the fridge is cold, and how far it comes until it is out.
func (v variant) chilled(w *Wait, fromC float64) {
	if v.Fridge == nil {
		return
	}
	if d, ok := v.Fridge.Until(fromC, v.Fridge.Temp()+allButCold); ok {
		w.Cold = w.From.Add(d).Round(Slot)
	}
	if rise, _, ok := v.whole(fromC, w.Until.Sub(w.From)); ok && v.bulkAt != nil {
		w.Whole = math.Round(100*rise) / 100
	}
}

// allButCold is how near to the fridge's own temperature dough counts as cold: a degree
// or two more hardly let it rise.
const allButCold = 2
