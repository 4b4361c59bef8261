package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// part is one stage of a whole plan: of the starter or of the recipe.
type part struct {
	name string
	work bool
	node node
	tags []tag // of a wait: what each way stands for
	feed bool  // work: the feed that counts
	top  bool  // wait: from the feed that counts to the top
	cool bool  // wait: neither dough nor starter works in it
}

// tag is what a way stands for.
type tag struct {
	ratio  Ratio
	warmth Warmth
	fridge bool
	rise   float64 // by which share it rises; 0 where none is named
}

// The names of the stages beside the recipe's own.
const (
	OutOfFridge = "out of the fridge"
	WarmingUp   = "warming up"
	RefreshFeed = "feed it first"
	RefreshWait = "first rise"
	FeedName    = "feed"
	TopName     = "top"
	IntoFridge  = "into the fridge"
	LoafName    = "loaf"
)

// parts lays the whole plan out, from now on; none where some wait cannot be spent. why
// says of each ratio that cannot be used why not.
func (v variant) parts() (all []part, why []error) {
	ratios, why := v.ratios()
	if v.Starter.Chilled {
		all = append(all, part{name: OutOfFridge, work: true, node: node{hands: 1}},
			part{name: WarmingUp, cool: true, tags: []tag{{}}, node: node{ways: []way{fixed(slots(warmUp), tolerance(-3, 0, slots(warmUpLongest-warmUp), slots(warmUpLongest)))}}})
	}
	for i := range v.Starter.Refreshes {
		all = append(all, part{name: RefreshFeed, work: true, node: node{hands: slots(feedTakes)}}, v.ripening(i, []Ratio{{1, 1}}, false))
	}
	all = append(all, part{name: FeedName, work: true, feed: true, node: node{hands: slots(feedTakes)}}, v.ripening(v.Starter.Refreshes, ratios, true))
	for _, s := range v.Recipe.until(v.Cooled) {
		all = append(all, v.recipePart(s))
	}
	if v.Running != nil {
		rest, ok := v.rest(all)
		if !ok {
			return nil, []error{fmt.Errorf("the recipe has no wait called %q", v.Running.Wait)}
		}
		all, why = rest, nil
	}
	if slices.ContainsFunc(all, func(x part) bool { return !x.work && len(x.node.ways) == 0 }) {
		return nil, why
	}
	return all, why
}

// ratios returns those that the starter and the flour in the house allow.
func (p Problem) ratios() (ok []Ratio, why []error) {
	for _, r := range p.Ratios {
		if err := p.allows(r); err != nil {
			var short *ShortError
			if errors.As(err, &short) {
				short.Ratio = r
			}
			why = append(why, err)
			continue
		}
		ok = append(ok, r)
	}
	return ok, why
}

func (p Problem) allows(r Ratio) error {
	var feed []Flour
	if p.Amounts != nil {
		a, err := p.Amounts(r, p.Recipe.StarterG)
		if err != nil {
			return err
		}
		feed = a.Flours
	}
	if p.FlourInHouse == nil {
		return nil
	}
	need, have := map[string]float64{}, map[string]float64{}
	for _, f := range append(append([]Flour(nil), p.Recipe.Flours...), feed...) {
		need[f.Kind] += f.Grams
	}
	for _, f := range p.FlourInHouse {
		have[f.Kind] += f.Grams
	}
	for _, f := range append(append([]Flour(nil), p.Recipe.Flours...), feed...) {
		if need[f.Kind] > have[f.Kind]+1e-9 {
			return &ShortError{Of: f.Kind, NeedG: need[f.Kind], HaveG: have[f.Kind], In: "house"}
		}
	}
	return nil
}

// ripening is the wait from a feed to the top. One that only wakes the starter
// up may end any time within half a day after it.
func (v variant) ripening(nth int, ratios []Ratio, counts bool) part {
	out := part{name: RefreshWait, top: counts}
	use := tolerance(-slots(time.Hour), 0, slots(12*time.Hour), slots(24*time.Hour))
	var hold *curve
	if counts {
		out.name = TopName
		use = tolerance(-slots(topTooEarly), -slots(topEarly), slots(topLate), slots(topTooLate))
		if lead := int(math.Round(float64(v.Recipe.lead()) / float64(Slot))); lead > 0 { // work before the starter joins
			use = &curve{from: use.from - lead, lo: use.lo - lead, hi: use.hi - lead, cost: use.cost}
		}
		if !v.NoStarterHold {
			hold = stay(holdShortest, holdLongest, holdHour)
			for k := range hold.cost {
				hold.cost[k] += fridgeCost
			}
		}
	}
	for _, r := range ratios {
		for _, w := range v.StarterAt {
			y := way{use: use, hold: hold, cost: 0.5 * perDegree * math.Abs(w.C-25), ready: v.ripe(nth, r, w)}
			if v.UsualRatio.Flour > 0 {
				y.cost += perRatio * math.Abs(math.Log(r.Flour/v.UsualRatio.Flour))
			}
			out.node.ways = append(out.node.ways, y)
			out.tags = append(out.tags, tag{ratio: r, warmth: w})
		}
	}
	return out
}

// ripe returns the outcomes of a feed by its slot. They are asked for again
// only as the rest before the feed grows by hours.
func (v variant) ripe(nth int, r Ratio, w Warmth) func(int) []int {
	known := map[int][]int{}
	return func(start int) []int {
		f := Feeding{At: v.at(start - slots(feedTakes)), Ratio: r, C: w.C}
		hours := -1
		if nth == 0 && !v.Starter.FedAt.IsZero() {
			f.Rested = max(0, f.At.Sub(v.Starter.FedAt))
			if v.Starter.Chilled {
				f.Chilled = max(0, f.Rested-warmUp)
			}
			hours = int(f.Rested.Hours() / 2)
		}
		if _, ok := known[hours]; !ok {
			ripe := v.Ripen(f)
			if nth < v.Starter.Refreshes {
				ripe = ripe.atLeast(v.Starter.Apart)
			}
			known[hours] = outcomes(ripe, starterOutcomes)
		}
		return known[hours]
	}
}

// fixed is a way that is ready after a known number of slots.
func fixed(n int, use *curve) way {
	ready := []int{n}
	return way{ready: func(int) []int { return ready }, use: use}
}

// recipePart is a stage of the recipe on the grid.
func (v variant) recipePart(s Stage) part {
	out := part{name: s.Name, work: s.Kind == Hands, cool: s.Kind == Rest}
	switch s.Kind {
	case Hands:
		out.node = node{hands: workSlots(s.Time)}
		if s.Before > 0 {
			out.node.lead = workSlots(s.Before)
		}
	case Rest:
		out.node.ways = []way{fixed(slots(s.Time), s.tolerance(s.Time))}
		out.tags = []tag{{}}
	case Rise:
		warm, cold := v.kept(s)
		for _, w := range v.DoughAt {
			if !warm {
				break
			}
			if b, _ := v.Recipe.bulk(); v.bulkAt != nil && s.Name == b.Name && w != *v.bulkAt {
				continue
			}
			ripe := v.dough(s, w.C)
			ready := outcomes(ripe, doughOutcomes)
			out.node.ways = append(out.node.ways, way{
				cost: perDegree * math.Abs(w.C-s.AtC), ready: func(int) []int { return ready }, use: s.tolerance(ripe(0.5)), missed: v.missedFolds(s),
			})
			out.tags = append(out.tags, tag{warmth: w, rise: v.rise(s, w.C)})
		}
		if cold {
			y := fixed(0, v.coldStay(s))
			y.cost = fridgeCost
			out.node.ways = append(out.node.ways, y)
			out.tags = append(out.tags, tag{fridge: true})
		}
	}
	return out
}

// tolerance is the stage's own, for a time at some warmth.
func (s Stage) tolerance(d time.Duration) *curve {
	share := func(x float64) int { return int(math.Round(x * float64(d) / float64(Slot))) }
	return tolerance(max(-share(2*s.Early), 1-slots(d)), -share(s.Early), share(s.Late), share(2*s.Late))
}

// at is the moment at which a slot begins. Slots are counted from the first
// whole one after now, so that the wished hour is the end of one.
func (p Problem) at(slot int) time.Time { return p.Ready.Add(time.Duration(slot-p.wished()) * Slot) }

// wished is the slot at which the loaf is wanted.
func (p Problem) wished() int { return int(p.Ready.Sub(p.Now) / Slot) }

// grid lays out the time of the plan.
func (p Problem) grid() grid {
	wish, n := p.wished(), p.wished()+int(latest/Slot)+1
	g := grid{free: make([]bool, n), end: make([]float64, n)}
	for s := range g.free {
		g.free[s] = p.Hours.free(p.at(s))
		h := float64(s-wish) * Slot.Hours()
		if g.end[s] = earlyHour * -h; h > 0 {
			g.end[s] = lateCost + lateHour*h
		}
	}
	return g
}
