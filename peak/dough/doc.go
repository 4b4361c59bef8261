// Package dough says, at the mixing, when a dough will have risen to its
// target: from what the recipe says, from the warmth, and from how long this
// baker's doughs took before.
//
//	m := dough.New(1.75)
//	for _, p := range past { // oldest first
//		m.Learn(p)
//	}
//	span := m.ReadyAfter(recipe, now, timetopeak.Steady(24), 0.5)
//	// span.Likely is the median, span.Low to span.High hold eight doughs in ten
//
// # The model
//
// Beforehand there is only the recipe's word: so many hours at such a warmth.
// Time runs by the pace of yeast (package peak), so that the word holds for any
// course of warmth. What is learnt is the logarithm of how many times the word
// this baker's doughs take. It is a sum of what all doughs have in common (flour,
// hands and starter of the house), of what one recipe has of its own, of what a
// degree does beyond the pace, of how a higher target takes longer, and of each
// dough's own whim. All of these are normal with spreads that are guesses, named
// below; so the past doughs are a sample of a Gaussian process, and what they tell
// of the next is closed form (model.go): no search, no chance, no clock. What
// is known fades over years. One odd dough counts little, and the size of the
// whim is learnt from the doughs themselves.
//
// # Before the first dough
//
// The word stands, in its full width: a recipe that leavend brings along is
// common practice, and sources differ by a factor of two; a recipe that the
// baker wrote down is his experience. A dough of which no recipe is known has
// common practice by its share of starter (Practice).
//
// # When to end the bulk
//
// Stops is the trade's table, by the dough's temperature and by what follows. BestOf finds
// where a baker's best loaves ended theirs, where their stars say anything of it.
//
// # What it does not know
//
// How lively the starter was at the mixing, and how warm the dough will be. It
// says when a dough is likely ready, never that anything is safe to eat.
// RESULTS.md has how far off it is on invented doughs.
package dough
