package plan

import (
	"math"
	"time"
)

// Plan is one way to the loaf, as it goes when every wait takes its likely
// time.
type Plan struct {
	Recipe   string
	Ready    time.Time // the hour that was asked for
	Steps    []Step
	Waits    []Wait
	Ratio    Ratio   // of the feed that counts
	Feed     Amounts // zero where nothing is known of weights
	Loaf     time.Time
	Late     float64 // probability that the loaf comes after Ready, or never
	Cost     float64 // expected, in chances of a hundred that the bake fails
	Why      []Reason
	Dough    Recipe  // what goes in, as this plan has it
	Share    float64 // the starter's share of the flour, where the plan changes it; else 0
	ColdBulk bool    // the bulk goes into the fridge
	Uses     *Use    // what it takes of the starter that stands there; nil where it feeds first
}

// Score is 100 for a plan without a flaw, and 0 for one that fails.
func (p Plan) Score() int { return int(math.Round(max(0, 100-p.Cost))) }

// Step is something for the baker to do.
type Step struct {
	Name             string
	At, Until        time.Time // best
	Earliest, Latest time.Time // to begin it
	OvenOn           time.Time // zero where no oven needs heating
}

// Wait is what happens between two steps.
type Wait struct {
	Name      string
	From      time.Time
	Low, High time.Time // the 80 % interval of when it is ready
	Likely    time.Time
	Until     time.Time // when the next step begins
	Warmth    Warmth    // meaningless where Fridge or Cool
	Fridge    bool      // all of it in the fridge
	Cool      bool      // nothing rises in it
	Top       bool      // it ends with the starter's top
	Held      time.Time // ripe starter goes into the fridge; zero if it does not
	Rise      float64   // of a bulk: by which share it has risen when it ends; 0 where none is named
	Cold      time.Time // in the fridge: when it is cold through; zero where that is not known
	Whole     float64   // and by which share it has risen in all when it comes out; 0 where that is not known

	TooEarly, TooLate float64  // probabilities that it is past its best, or not ready, when it is used
	Unseen            []Unseen // hours at which the baker cannot act on it
}

// Unseen is a time in which the baker could not act, with the probability that a
// wait is over in it.
type Unseen struct {
	From, To time.Time
	Why      string // Asleep or NotHome
	P        float64
}

// like reports whether two plans are the same thing to a baker.
func (p Plan) like(q Plan) bool {
	if len(p.Waits) != len(q.Waits) || (p.Uses == nil) != (q.Uses == nil) || p.start().Sub(q.start()).Abs() >= apart {
		return false
	}
	for i, w := range p.Waits {
		if w.Fridge != q.Waits[i].Fridge || w.Held.IsZero() != q.Waits[i].Held.IsZero() {
			return false
		}
	}
	return true
}

func (p Plan) start() time.Time { return p.Steps[0].At }

// course follows the policy from a slot, each wait taking its median.
func (v variant) course(t *table, parts []part, start int) (Plan, bool) {
	c := &builder{p: v, t: t, parts: parts, plan: Plan{Recipe: v.Recipe.Name, Dough: v.Recipe, Share: v.share, ColdBulk: v.coldBulk, Ready: v.Ready, Cost: t.value[0][start] + v.lever}}
	s := start
	for i := range parts {
		var ok bool
		if s, ok = c.pass(i, s); !ok {
			return Plan{}, false
		}
	}
	c.plan.Loaf = v.at(s)
	if n := len(c.plan.Waits); n > 0 && c.plan.Waits[n-1].Cool && c.parts[len(c.parts)-1].cool {
		c.plan.Loaf = c.plan.Waits[n-1].Likely // it has cooled, however long it is left then
	}
	c.risks(start)
	c.reasons()
	return c.plan, true
}

// builder follows the best policy once, from its start, and writes the plan down.
type builder struct {
	p     variant
	t     *table
	parts []part
	plan  Plan
	chose []int // the way of each wait
	spot  []int // the slot at which each part begins
	ready int   // the slot at which the wait before was ready; -1 at first
	held  int   // the slot at which it went into the fridge; -1 if not
	use   *curve
	hold  *curve
}

// pass goes through one part from slot s and returns where the next begins.
func (c *builder) pass(i, s int) (int, bool) {
	x := c.parts[i]
	c.spot = append(c.spot, s)
	if x.work {
		c.chose = append(c.chose, -1)
		if math.IsInf(c.t.value[i][s], 1) {
			return 0, false
		}
		c.step(i, s)
		return s + x.node.hands, true
	}
	w := c.t.best[i][s]
	c.chose = append(c.chose, w)
	y := x.node.ways[w]
	outcomes := y.ready(s)
	c.ready = s + outcomes[len(outcomes)/2]
	m := moveAt(c.t.moves(i, y), c.ready)
	if m.at < 0 {
		return 0, false
	}
	c.held, c.use, c.hold = m.held, y.use, y.hold
	tag := x.tags[w]
	wait := Wait{Name: x.name, From: c.p.at(s), Likely: c.p.at(c.ready), Until: c.p.at(m.at), Warmth: tag.warmth, Fridge: tag.fridge, Cool: x.cool, Top: x.top, Rise: tag.rise}
	if tag.fridge {
		c.p.chilled(&wait, c.warmth())
	}
	n := len(outcomes)
	wait.Low, wait.High = c.p.at(s+outcomes[n/10]), c.p.at(s+outcomes[n-1-n/10])
	if x.top {
		c.plan.Ratio = tag.ratio
		if c.p.Amounts != nil && c.p.Running == nil {
			c.plan.Feed, _ = c.p.Amounts(tag.ratio, c.p.Recipe.StarterG) // a ratio without is not among the ways
		}
	}
	if m.held >= 0 {
		wait.Held = c.p.at(m.held)
		c.plan.Steps = append(c.plan.Steps, Step{Name: IntoFridge, At: wait.Held, Until: wait.Held,
			Earliest: c.p.at(min(m.held, max(s, c.ready+y.use.lo))), Latest: c.p.at(max(m.held, c.ready+y.use.hi))})
	}
	c.plan.Waits = append(c.plan.Waits, wait)
	return m.at, true
}

// step notes work at slot s, with its window.
func (c *builder) step(i, s int) {
	n := c.parts[i].node
	lo, hi := c.window(i, s)
	step := Step{Name: c.parts[i].name, At: c.p.at(s), Until: c.p.at(s + n.hands), Earliest: c.p.at(lo), Latest: c.p.at(hi)}
	if n.lead > 0 {
		step.OvenOn = c.p.at(s - n.lead)
	}
	c.plan.Steps = append(c.plan.Steps, step)
}

// window returns the stretch of slots around s at which the work may begin.
func (c *builder) window(i, s int) (lo, hi int) {
	bound := c.cost(i, s, -1) + soundBy
	way := -1
	if i+1 < len(c.parts) && !c.parts[i+1].work {
		way = c.t.best[i+1][s+c.parts[i].node.hands]
	}
	lo, hi = s, s
	for lo > 0 && c.cost(i, lo-1, way) <= bound {
		lo--
	}
	for hi+1 < len(c.t.g.end) && c.cost(i, hi+1, way) <= bound {
		hi++
	}
	return lo, hi
}

// cost is what it costs to begin work i at slot s, all before being as
// planned, and to spend the wait after it in the given way; -1 is the best.
func (c *builder) cost(i, s, way int) float64 {
	n := c.parts[i].node
	if !c.t.g.canWork(s-n.lead, s+n.hands) {
		return math.Inf(1)
	}
	next := c.t.value[i+1][s+n.hands]
	if way >= 0 {
		next = c.t.spend(i+1, way, s+n.hands)
	}
	switch {
	case i == 0 || c.parts[i-1].work:
		return next
	case c.held >= 0:
		return next + c.hold.at(s-c.held)
	}
	return next + c.use.at(s-c.ready)
}

// at is the cost a number of slots after the curve's moment.
func (c *curve) at(off int) float64 {
	if k := off - c.from; k >= 0 && k < len(c.cost) {
		return c.cost[k]
	}
	return math.Inf(1)
}
