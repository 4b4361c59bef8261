package plan

import (
	"math"
	"time"
)

// Reason says why the plan is as it is, by what would come of another choice.
type Reason struct {
	Code   string    // of the constants below
	Ratio  Ratio     // the other ratio
	Warmth Warmth    // the other warmth
	Stage  string    // which wait it is about
	At     time.Time // when it would be ready then
	Busy   string    // why the baker could not act then; "" where the baker could
	Worse  float64   // by how much the plan would cost more
}

// What a reason speaks of.
const (
	OtherRatio  = "ratio"  // another ratio, at the same hour and its best warmth
	OtherWarmth = "warmth" // the room in place of the mat, or the mat in place of the room
	NotChilled  = "fridge" // the same stage without the fridge
)

// reasons compares the plan's choices with the next best ones.
func (c *builder) reasons() {
	for i, x := range c.parts {
		switch {
		case x.top:
			c.ratioReasons(i)
			c.warmthReason(i)
		case !x.work && !x.cool && x.tags[c.chose[i]].fridge:
			c.fridgeReason(i)
		case !x.work && !x.cool && x.name != RefreshWait:
			c.warmthReason(i)
		}
	}
}

// ratioReasons looks at the next leaner and the next richer ratio.
func (c *builder) ratioReasons(i int) {
	x, mine := c.parts[i], c.parts[i].tags[c.chose[i]].ratio
	for _, leaner := range []bool{true, false} {
		other, found := Ratio{}, false
		for _, t := range x.tags {
			r := t.ratio
			if leaner == (r.Flour < mine.Flour) && r != mine && (!found || math.Abs(r.Flour-mine.Flour) < math.Abs(other.Flour-mine.Flour)) {
				other, found = r, true
			}
		}
		if found {
			c.compare(i, Reason{Code: OtherRatio, Ratio: other}, func(t tag) bool { return t.ratio == other })
		}
	}
}

func (c *builder) warmthReason(i int) {
	mine := c.parts[i].tags[c.chose[i]]
	c.compare(i, Reason{Code: OtherWarmth}, func(t tag) bool {
		return t.ratio == mine.ratio && !t.fridge && t.warmth.Mat != mine.warmth.Mat
	})
}

// fridgeReason asks what the dough would do outside the fridge.
func (c *builder) fridgeReason(i int) {
	for _, s := range c.p.Recipe.Stages {
		if s.Name != c.parts[i].name || s.Kind != Rise {
			continue
		}
		room := c.p.DoughAt[0]
		at := c.p.at(c.spot[i] + slots(c.p.dough(s, room.C)(0.5)))
		c.plan.Why = append(c.plan.Why, Reason{Code: NotChilled, Stage: s.Name, Warmth: room, At: at, Busy: c.p.Hours.why(at)})
	}
}

// compare adds a reason if the best of the other ways is worse than the
// chosen by enough to be worth a word.
func (c *builder) compare(i int, r Reason, other func(tag) bool) {
	x, s := c.parts[i], c.spot[i]
	best := math.Inf(1)
	for w, t := range x.tags {
		if !other(t) {
			continue
		}
		if cost := c.t.spend(i, w, s); cost < best {
			outcomes := x.node.ways[w].ready(s)
			best, r.Warmth, r.At = cost, t.warmth, c.p.at(s+outcomes[len(outcomes)/2])
		}
	}
	r.Stage, r.Busy, r.Worse = x.name, c.p.Hours.why(r.At), best-c.t.spend(i, c.chose[i], s)
	if !math.IsInf(best, 1) && r.Worse >= 3 {
		c.plan.Why = append(c.plan.Why, r)
	}
}
