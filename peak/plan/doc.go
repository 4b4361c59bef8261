// Package plan answers the baker's question backwards: for a loaf out of the
// oven by a certain hour, when to feed, how much, how warm, and when to mix,
// shape and bake.
//
// # Use
//
//	plans, err := plan.Find(plan.Problem{Now: now, Ready: saturday, Recipe: r, Hours: h, Ripen: model, ...})
//
// Find returns up to three plans that truly differ, the best first. It reads
// no clock and knows no sensor; how long a fed starter takes to its peak is
// asked of Problem.Ripen, and what a ratio weighs of Problem.Amounts.
//
// # How it works
//
// Time is cut into slots of ten minutes, counted so that the hour asked for
// is the end of one. A recipe is a row of stages: work that needs the baker,
// and waiting that needs only time. How long a wait takes is not known
// beforehand: it is a handful of equally likely times, of the starter from the
// ripening model, of dough from past doughs, the recipe's time and the warmth.
//
// A plan is therefore a policy: what to do next once it is seen when the top
// came. The cost of starting a stage at a slot is the mean, over the times the
// wait may take, of the best that can then still be done. It is worked out
// from the last stage to the first, once for each slot (dynamic programming),
// and is exact on the grid: a test walks the whole tree of choices on small
// cases, another tries everything on small problems, with ratios, mats, fridge and
// past doughs, and both find the same. The baker is taken to see a top half an
// hour or so ahead, as the forecast shows it, and to act on it only when awake
// and at home.
//
// Whether dough goes into the fridge is laid down in a plan beforehand. To decide
// it only when the dough is ready would gain 0.25 points on the mean of 286 small
// problems, 12 at most (go test ./peak/plan -run Everything -v -tried 400); some of
// that is had all the same, for a plan is worked out again as the dough shows its
// way.
//
// # What it counts
//
// One point of cost is one chance in a hundred that the bake fails. Dough or
// starter used within its tolerance costs next to nothing; beyond it the cost
// grows evenly up to the hard limits, and past those the bake has failed: 100.
// A loaf that comes late costs 40 and more, one that comes early a little for
// every hour that it is no longer fresh. Small costs keep a plan near what the
// recipe and the baker usually do. The weights are judgements, not
// measurements; they stand in weights.go.
//
// A step's window is the stretch around its best time in which the plan stays
// within ten points of its best, all that went before being as planned.
//
// # What it cannot know
//
// How long dough takes is what Problem.Dough says of it; where it says nothing,
// the recipe's time stands, with a spread that is a guess. A plan says when things are likely ready, never that
// anything is safe to eat.
package plan
