package plan

import (
	"errors"
	"fmt"
	"math"
	"time"

	"leavend/peak/dough"
)

// Ratio is starter : flour : water by weight, with the starter as 1.
type Ratio struct{ Flour, Water float64 }

// UsualRatios are those that a plan chooses from unless it is told otherwise
// (common practice).
func UsualRatios() []Ratio {
	return []Ratio{{1, 1}, {2, 2}, {3, 3}, {4, 4}, {5, 5}, {7, 7}, {10, 10}}
}

// Warmth is a temperature that something can be kept at.
type Warmth struct {
	C   float64 // °C
	Mat bool    // the mat holds it; else it is the room's
}

// Amounts are what a feed weighs, in grams.
type Amounts struct {
	KeepG  float64
	Flours []Flour
	WaterG float64
}

// Feeding is a feed whose time to the top is asked for.
type Feeding struct {
	At      time.Time
	Ratio   Ratio
	C       float64       // the warmth it is kept at
	Rested  time.Duration // since the feed before; 0 where it is not known
	Chilled time.Duration // of that, in the fridge
}

// Ripe is how long a feed takes to its peak, as a distribution: the time that
// is not exceeded with probability p.
type Ripe func(p float64) time.Duration

// Starter is what is known of the starter in the jar.
type Starter struct {
	FedAt     time.Time     // its last feed; zero where it is not known
	Chilled   bool          // it stands in the fridge
	Refreshes int           // feeds to give before the one that counts, for a starter that has stood long
	Apart     time.Duration // the least between two of those feeds; 0 is until it is ripe
}

// Problem is what a plan is asked for.
type Problem struct {
	Now      time.Time
	Ready    time.Time // when the loaf is wanted
	Cooled   bool      // it is wanted cooled, not as it comes out of the oven
	Recipe   Recipe
	Starter  Starter
	Running  *Running  // nil before the first step
	Standing *Standing // nil where nothing that was fed can be used
	KeepG    float64   // starter to be left over, to feed on from
	Hours    Hours

	Ratios        []Ratio
	UsualRatio    Ratio    // zero where there is none
	StarterAt     []Warmth // warmths to choose from, at least one
	DoughAt       []Warmth
	FlourInHouse  []Flour // nil: there is enough of everything
	Ripen         func(Feeding) Ripe
	Dough         func(s Stage, c, rise float64) Ripe              // how long it takes to rise by a share at a warmth, 0 where none is named; nil, for all or for one: the recipe's time
	Stop          func(c float64, next Next) float64               // by which share the bulk rises at a warmth, before what follows; nil: the recipe's time is the rule
	Fridge        *dough.Cooling                                   // how dough cools in the fridge, and rises until then; nil: it stops at once
	Amounts       func(r Ratio, starterG float64) (Amounts, error) // of a feed that makes so much ripe starter for the dough; nil: no weights are worked out
	NoStarterHold bool                                             // ripe starter is never put into the fridge to wait

	Fixed bool // the recipe is taken as it stands: no lever is pulled
}

// variant is a problem with what is laid down before the search: what follows the bulk,
// and which lever is pulled.
type variant struct {
	Problem
	coldNext bool    // the bulk is followed by the fridge
	bulkAt   *Warmth // and is as warm as this; nil: any
	share    float64 // the lever that is pulled: the starter's share; 0 is the recipe's own
	coldBulk bool    // or the bulk in the fridge
	lever    float64 // what it costs
}

// mostRefreshes are three days of two feeds.
const mostRefreshes = 6

// Longest is how far ahead a plan may reach.
const Longest = 10 * 24 * time.Hour

// ErrPast refuses bread for an hour that is past.
var ErrPast = errors.New("that hour is past")

// ErrFar refuses bread for an hour beyond Longest.
var ErrFar = errors.New("that hour is more than 10 days away")

// Check says what is wrong with a problem before any search.
func (p Problem) Check() error {
	switch {
	case p.Now.IsZero() || p.Ready.IsZero():
		return fmt.Errorf("it has no time")
	case !p.Ready.After(p.Now):
		return ErrPast
	case p.Ready.Sub(p.Now) > Longest:
		return ErrFar
	case p.Ripen == nil || len(p.Ratios) == 0 || len(p.StarterAt) == 0 || len(p.DoughAt) == 0:
		return fmt.Errorf("it lacks ratios, warmths or a ripening model")
	case p.Starter.Refreshes < 0 || p.Starter.Refreshes > mostRefreshes:
		return fmt.Errorf("%d feeds before the one that counts; at most %d can be planned", p.Starter.Refreshes, mostRefreshes)
	}
	for _, w := range append(append([]Warmth(nil), p.StarterAt...), p.DoughAt...) {
		if !(w.C >= 0 && w.C <= 40) {
			return fmt.Errorf("a warmth of %g °C; it must be between 0 and 40", w.C)
		}
	}
	for _, r := range p.Ratios {
		if !(r.Flour > 0 && r.Water >= 0 && r.Flour <= 100 && r.Water <= 200) {
			return fmt.Errorf("a ratio of 1:%g:%g cannot be fed", r.Flour, r.Water)
		}
	}
	if err := p.Recipe.Check(); err != nil {
		return fmt.Errorf("recipe %q: %w", p.Recipe.Name, err)
	}
	return nil
}

// slots rounds a duration to slots, at least one.
func slots(d time.Duration) int { return max(1, int(math.Round(float64(d)/float64(Slot)))) }

// workSlots rounds work up: the baker is not asked to hurry.
func workSlots(d time.Duration) int { return max(1, int(math.Ceil(float64(d)/float64(Slot)-1e-9))) }

// tolerance returns a curve that costs next to nothing from lo to hi, and
// more and more up to the hard limits.
func tolerance(hardLo, lo, hi, hardHi int) *curve {
	c := &curve{from: hardLo, lo: lo, hi: hi}
	for off := hardLo; off <= hardHi; off++ {
		cost := offMinute * Slot.Minutes() * math.Abs(float64(off))
		switch {
		case off < lo:
			cost += edgeCost * float64(lo-off) / float64(max(1, lo-hardLo))
		case off > hi:
			cost += edgeCost * float64(off-hi) / float64(max(1, hardHi-hi))
		}
		c.cost = append(c.cost, cost)
	}
	return c
}

// stay returns the curve of a stay of shortest to longest, each good, the
// middle a little better; every hour costs the given.
func stay(shortest, longest time.Duration, hour float64) *curve {
	from, to := slots(shortest), slots(longest)
	c := &curve{from: from, lo: from, hi: to}
	middle := float64(from+to) / 2
	for k := from; k <= to; k++ {
		away := math.Abs(float64(k) - middle)
		c.cost = append(c.cost, hour*float64(k)*Slot.Hours()+0.1*offMinute*Slot.Minutes()*away)
	}
	return c
}
