package plan

import "time"

// Slot is the grain of a plan.
const Slot = 10 * time.Minute

// Costs, in chances of a hundred that the bake fails. They are judgements.
const (
	failed       = 100.0 // nothing can be done any more
	edgeCost     = 60.0  // dough or starter used at its hard limit
	lateCost     = 40.0  // the loaf comes after the hour that was asked for
	lateHour     = 20.0  // and each hour of that
	earlyHour    = 1.5   // each hour that the loaf waits for the baker
	offMinute    = 0.01  // each minute that a wait ends beside its best, within tolerance
	missedFold   = 3.0   // the baker is away for a fold; dough can do without
	perDegree    = 0.4   // each degree beside the recipe's own
	perRatio     = 0.8   // a ratio e times as rich or lean as the usual one
	fridgeCost   = 1.5   // a stay in the fridge, for the way there and back
	holdHour     = 0.3   // each hour that ripe starter waits in the fridge
	soundBy      = 10.0  // a step's window ends where the plan gets worse by this
	wasteCost    = 15.0  // to feed again where a starter ripens that could be used
	perShare     = 3.0   // a share of starter e times the recipe's, or a part of it
	coldBulkCost = 4.0   // the bulk in the fridge, which takes a bowl's room there
	leverFrom    = 25.0  // a lever is pulled where the best plan without one costs as much
	apartBy      = 35.0  // a further plan is not shown if it is worse by more
)

// latest is how long after the wished hour a loaf is still planned at all.
const latest = 3 * time.Hour

// Tolerances of the starter. It stands at its peak for an hour or two (common
// practice): used from half an hour before until an hour and a half after it
// is as good as at the top. The hard limits are a guess.
const (
	topEarly, topLate         = 30 * time.Minute, 90 * time.Minute
	topTooEarly, topTooLate   = 90 * time.Minute, 4 * time.Hour
	holdShortest, holdLongest = time.Hour, 24 * time.Hour // ripe starter in the fridge keeps for a day (common practice)
	feedTakes                 = Slot
	warmUp, warmUpLongest     = time.Hour, 4 * time.Hour // out of the fridge before a feed (common practice)
)

// UsefulFor is how long after its peak a starter raises bread as well as at it.
const UsefulFor = topLate

// doughSpread is the standard deviation of the logarithm of the time that
// dough takes at a known warmth: a guess.
const doughSpread = 0.12
