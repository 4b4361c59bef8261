package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// Most is how many plans Find returns at most.
const Most = 3

// NoPlanError says that nothing can be planned, and what could be.
type NoPlanError struct {
	Ready    time.Time
	Earliest time.Time // when a loaf could be had; zero if not within days
	Ratios   []error   // why ratios were left out, if all were
}

func (e *NoPlanError) Error() string {
	if len(e.Ratios) > 0 {
		return "no feed makes enough ripe starter: " + errors.Join(e.Ratios...).Error()
	}
	return fmt.Sprintf("no loaf can be ready by %s", e.Ready.Format(time.RFC3339))
}

// ShortError says that a bread and its feed take more of something than there is.
type ShortError struct {
	Ratio        Ratio // of the feed
	Of           string
	NeedG, HaveG float64
	In           string // where it is: "house" or "jar"
}

func (e *ShortError) Error() string {
	return fmt.Sprintf("1:%g:%g: it takes %.0f g of %s, and %.0f g are in the %s", e.Ratio.Flour, e.Ratio.Water, e.NeedG, e.Of, e.HaveG, e.In)
}

// Find returns the best plans that truly differ, the best first. It fails with
// a *NoPlanError where there is none.
func Find(p Problem) ([]Plan, error) {
	if err := p.Check(); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	asIs := variant{Problem: p}
	found, why := asIs.every()
	short := len(found) == 0 && len(why) > 0
	if found = rank(found); len(found) == 0 || found[0].Cost >= leverFrom {
		for _, q := range p.levers() {
			more, _ := q.every()
			found = append(found, more...)
		}
		found = rank(found)
	}
	if p.Running != nil && p.Running.Next != nil && (len(found) == 0 || found[0].Cost >= lateCost) {
		q, r := p, *p.Running // it cannot go on as it was meant
		r.Next, q.Running = nil, &r
		return Find(q)
	}
	switch {
	case len(found) > 0:
		return found, nil
	case short:
		return nil, &NoPlanError{Ready: p.Ready, Ratios: why}
	}
	return nil, &NoPlanError{Ready: p.Ready, Earliest: asIs.earliest()}
}

// every returns all plans of whatever may follow the bulk. why says of each ratio that
// cannot be fed why not, where none can.
func (v variant) every() (found []Plan, why []error) {
	fed := false
	for _, q := range v.variants() {
		found = append(found, q.fromStanding()...)
		parts, lacks := q.parts()
		if len(parts) == 0 {
			why = lacks
			continue
		}
		fed = true
		found = append(found, q.search(parts)...)
	}
	if fed {
		return found, nil
	}
	return found, why
}

// search solves each kind of plan; there is none without parts.
func (v variant) search(parts []part) []Plan {
	if len(parts) == 0 {
		return nil
	}
	g := v.grid()
	var all []Plan
	for _, kind := range kinds(parts, !v.NoStarterHold) {
		t := solve(g, nodes(kind))
		for _, s := range v.starts(t.value[0]) {
			if one, ok := v.course(t, kind, s); ok {
				all = append(all, one)
			}
		}
	}
	return all
}

func cmpFloat(a, b float64) int {
	if a < b {
		return -1
	}
	return 1
}

// kinds returns the parts once for each way of using the fridge: each dough
// stage that may be chilled, chilled or not, and ripe starter waiting or not.
func kinds(parts []part, hold bool) [][]part {
	all := [][]part{nil}
	for _, x := range parts {
		var next [][]part
		for _, variant := range variants(x, hold) {
			for _, before := range all {
				next = append(next, append(slices.Clone(before), variant))
			}
		}
		all = next
	}
	return all
}

// variants returns a part with the fridge and without it.
func variants(x part, hold bool) []part {
	if x.top && hold {
		never := x
		never.node.ways = slices.Clone(x.node.ways)
		for i := range never.node.ways {
			never.node.ways[i].hold = nil
		}
		return []part{never, x}
	}
	var out []part
	for _, fridge := range []bool{false, true} {
		v := x
		v.node.ways, v.tags = nil, nil
		for i, t := range x.tags {
			if t.fridge == fridge {
				v.node.ways, v.tags = append(v.node.ways, x.node.ways[i]), append(v.tags, t)
			}
		}
		if len(v.tags) > 0 {
			out = append(out, v)
		}
	}
	if len(out) == 0 {
		return []part{x} // work
	}
	return out
}

func nodes(parts []part) []node {
	all := make([]node, len(parts))
	for i, x := range parts {
		all[i] = x.node
	}
	return all
}

// apart is how far two starts must lie from each other to be two plans.
const apart = 3 * time.Hour

// starts returns the slots at which a plan may begin: the best ones, or now
// where a wait is running already.
func (v variant) starts(value []float64) []int {
	if v.Running == nil {
		return valleys(value)
	}
	if len(value) > 0 && value[0] < failed {
		return []int{0}
	}
	return nil
}

// valleys returns the slots that are the best within hours around them; of
// equals the last.
func valleys(value []float64) []int {
	reach := int(apart / Slot)
	var out []int
	for s, v := range value {
		if math.IsInf(v, 1) || v >= failed {
			continue
		}
		best := true
		for k := max(0, s-reach); k < min(len(value), s+reach+1); k++ {
			best = best && (value[k] > v || value[k] == v && k <= s)
		}
		if best {
			out = append(out, s)
		}
	}
	return out
}

// Earliest returns when a loaf could likely be had at the soonest after
// p.Ready, for a plan that is none or a gamble; zero if not within days.
func Earliest(p Problem) time.Time {
	if p.Check() != nil {
		return time.Time{}
	}
	return variant{Problem: p}.earliest()
}

// earliest returns the soonest of what may follow the bulk.
func (v variant) earliest() time.Time {
	var first time.Time
	for _, q := range v.variants() {
		if at := q.soonest(); !at.IsZero() && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	return first
}

// soonest returns when a loaf could be had at the soonest. It first plans as
// if every hour of waiting cost much, and then asks from that loaf's hour on
// for one that likely comes in time.
func (v variant) soonest() time.Time {
	const ahead = 5 * 24 * time.Hour
	q := v
	q.Ready = v.Ready.Add(ahead)
	g := q.grid()
	for s := range g.end {
		g.end[s] = float64(s) * Slot.Hours()
	}
	parts, _ := q.parts()
	if len(parts) == 0 {
		return time.Time{}
	}
	t := solve(g, nodes(parts))
	start := slices.Index(t.value[0], slices.Min(t.value[0]))
	if v.Running != nil {
		start = 0
	}
	one, ok := q.course(t, parts, start)
	if !ok {
		return time.Time{}
	}
	for _, more := range []float64{0, 1. / 3, 2. / 3, 1, 2, 4, 6, 8, 10, 12, 15, 18, 21, 24, 30, 36} {
		q.Ready = one.Loaf.Add(time.Duration(more * float64(time.Hour)))
		if q.Ready.After(v.Ready) && q.Ready.Sub(q.Now) <= Longest && q.possible() {
			return q.Ready
		}
	}
	return time.Time{}
}

// possible reports whether some plan likely works.
func (v variant) possible() bool {
	parts, _ := v.parts()
	t := solve(v.grid(), nodes(parts))
	return slices.ContainsFunc(v.starts(t.value[0]), func(s int) bool {
		one, ok := v.course(t, parts, s)
		return ok && one.Cost < lateCost
	})
}
