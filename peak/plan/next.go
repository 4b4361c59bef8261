package plan

import (
	"slices"

	"leavend/peak/dough"
	"leavend/peak/flour"
)

// Next is what follows a bulk, which decides how far it rises.
type Next = dough.Next

// FirstRise is the first stage in which dough rises, which is what a bowl shows.
func (r Recipe) FirstRise() (Stage, bool) {
	i := slices.IndexFunc(r.Stages, func(s Stage) bool { return s.Kind == Rise })
	if i < 0 {
		return Stage{}, false
	}
	return r.Stages[i], true
}

// bulk is the recipe's first rise, where shaped dough rises once more after it.
func (r Recipe) bulk() (Stage, bool) {
	first, ok := r.FirstRise()
	if !ok || !slices.ContainsFunc(r.Stages, func(s Stage) bool { return s.Kind == Rise && s.Name != first.Name }) {
		return Stage{}, false
	}
	return first, true
}

// MostlyRye reports whether rye is more than half of some flours.
func MostlyRye(flours []Flour) bool {
	rye, all := 0.0, 0.0
	for _, f := range flours {
		if all += f.Grams; flour.Rye(f.Kind) {
			rye += f.Grams
		}
	}
	return 2*rye > all
}

// EndsFor is what the recipe's first rise is ended for, given what follows it: rye, which
// never doubles, has a rise of its own whatever follows (common practice).
func (r Recipe) EndsFor(next Next) Next {
	if MostlyRye(r.Flours) {
		return dough.RyeBake
	}
	return next
}

// Rises is the share by which a stage has risen after its time.
func (r Recipe) Rises(s Stage) float64 {
	switch {
	case s.To > 0:
		return s.To
	case MostlyRye(r.Flours):
		return dough.UsualStops().Rise(s.AtC, dough.RyeBake)
	}
	return 1
}

// rise is by which share a stage shall rise at a warmth; 0 where nothing names one.
func (v variant) rise(s Stage, c float64) float64 {
	b, ok := v.Recipe.bulk()
	if MostlyRye(v.Recipe.Flours) { // its only rise counts too
		b, ok = v.Recipe.FirstRise()
	}
	room, cold := v.Recipe.EndsFor(dough.RoomProof), v.Recipe.EndsFor(dough.ColdProof)
	switch {
	case !ok || v.Stop == nil || b.Name != s.Name:
		return 0
	case !v.coldNext && !v.coldBulk:
		return v.Stop(c, room)
	case v.Fridge == nil:
		return v.Stop(c, cold)
	}
	return dough.Before(v.Stop(c, cold), c, v.doubles(b, c), *v.Fridge)
}

// kept says how a rise may be spent: warm, in the fridge, or either. What follows the
// bulk is laid down beforehand where it decides how far the bulk rises.
func (v variant) kept(s Stage) (warm, cold bool) {
	b, ok := v.Recipe.bulk()
	switch {
	case s.Name == ColdBulkName:
		return false, true
	case !ok || v.Stop == nil && v.Fridge == nil || b.Name == s.Name:
		return true, s.Cold()
	}
	return !v.coldNext || !s.Cold(), s.Cold() && v.coldNext
}

// variants are the problem once for each thing that may follow the bulk, and for each
// warmth of a bulk that the fridge follows: it decides how far the dough goes on there.
func (v variant) variants() []variant {
	_, ok := v.Recipe.bulk()
	if !ok || v.Stop == nil && v.Fridge == nil {
		return []variant{v}
	}
	if v.coldBulk {
		return v.byWarmth()
	}
	room, cold := v, v
	cold.coldNext = true
	colds := slices.ContainsFunc(v.Recipe.Stages, func(s Stage) bool { b, _ := v.Recipe.bulk(); return s.Cold() && s.Name != b.Name })
	switch {
	case !colds:
		return []variant{room}
	case v.Running != nil && v.Running.Next != nil && *v.Running.Next == dough.ColdProof:
		return cold.byWarmth() // it rises only so far
	case v.Running != nil && v.Running.Next != nil:
		return []variant{room}
	}
	return append(cold.byWarmth(), room)
}

// byWarmth are the problem once for each warmth of the bulk.
func (v variant) byWarmth() []variant {
	b, _ := v.Recipe.bulk()
	switch {
	case v.Fridge == nil:
		return []variant{v}
	case v.Running != nil && v.Running.Wait == b.Name:
		v.bulkAt = &v.Running.Warmth
		return []variant{v}
	case v.Running != nil && v.Running.Wait != TopName && v.Running.Wait != RefreshWait:
		return []variant{v} // the bulk is over
	}
	var out []variant
	for _, w := range v.DoughAt {
		q := v
		q.bulkAt = &w
		out = append(out, q)
	}
	return out
}

// warmth is that of the last wait outside the fridge, and else the room's.
func (c *builder) warmth() float64 {
	for i := len(c.plan.Waits) - 1; i >= 0; i-- {
		if w := c.plan.Waits[i]; !w.Fridge && !w.Cool && !w.Top && w.Warmth.C > 0 {
			return w.Warmth.C
		}
	}
	return c.p.DoughAt[0].C
}
