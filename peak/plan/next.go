package plan

import (
	"slices"

	"leavend/peak/dough"
)

// Next is what follows a bulk, which decides how far it rises.
type Next = dough.Next

// bulk is the recipe's first rise, where shaped dough rises once more after it.
func (r Recipe) bulk() (Stage, bool) {
	first := slices.IndexFunc(r.Stages, func(s Stage) bool { return s.Kind == Rise })
	if first < 0 || !slices.ContainsFunc(r.Stages[first+1:], func(s Stage) bool { return s.Kind == Rise }) {
		return Stage{}, false
	}
	return r.Stages[first], true
}

// rises is the share by which a stage has risen after its time.
func (s Stage) rises() float64 {
	if s.To > 0 {
		return s.To
	}
	return 1
}

// rise is by which share a stage shall rise at a warmth; 0 where nothing names one.
func (p Problem) rise(s Stage, c float64) float64 {
	b, ok := p.Recipe.bulk()
	switch {
	case !ok || p.Stop == nil || b.Name != s.Name:
		return 0
	case !p.coldNext && !p.coldBulk:
		return p.Stop(c, dough.RoomProof)
	case p.Fridge == nil:
		return p.Stop(c, dough.ColdProof)
	}
	return dough.Before(p.Stop(c, dough.ColdProof), c, p.doubles(b, c), *p.Fridge)
}

// kept says how a rise may be spent: warm, in the fridge, or either. What follows the
// bulk is laid down beforehand where it decides how far the bulk rises.
func (p Problem) kept(s Stage) (warm, cold bool) {
	b, ok := p.Recipe.bulk()
	switch {
	case s.Name == ColdBulkName:
		return false, true
	case !ok || p.Stop == nil && p.Fridge == nil || b.Name == s.Name:
		return true, s.Cold()
	}
	return !p.coldNext || !s.Cold(), s.Cold() && p.coldNext
}

// variants are the problem once for each thing that may follow the bulk, and for each
// warmth of a bulk that the fridge follows: it decides how far the dough goes on there.
func (p Problem) variants() []Problem {
	_, ok := p.Recipe.bulk()
	if !ok || p.Stop == nil && p.Fridge == nil {
		return []Problem{p}
	}
	if p.coldBulk {
		return p.byWarmth()
	}
	room, cold := p, p
	cold.coldNext = true
	colds := slices.ContainsFunc(p.Recipe.Stages, func(s Stage) bool { b, _ := p.Recipe.bulk(); return s.Cold() && s.Name != b.Name })
	switch {
	case !colds:
		return []Problem{room}
	case p.Running != nil && p.Running.Next != nil && *p.Running.Next == dough.ColdProof:
		return cold.byWarmth() // it rises only so far
	case p.Running != nil && p.Running.Next != nil:
		return []Problem{room}
	}
	return append(cold.byWarmth(), room)
}

// byWarmth are the problem once for each warmth of the bulk.
func (p Problem) byWarmth() []Problem {
	b, _ := p.Recipe.bulk()
	switch {
	case p.Fridge == nil:
		return []Problem{p}
	case p.Running != nil && p.Running.Wait == b.Name:
		p.bulkAt = &p.Running.Warmth
		return []Problem{p}
	case p.Running != nil && p.Running.Wait != TopName && p.Running.Wait != RefreshWait:
		return []Problem{p} // the bulk is over
	}
	var out []Problem
	for _, w := range p.DoughAt {
		q := p
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
