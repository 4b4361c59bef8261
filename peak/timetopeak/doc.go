// Package timetopeak says, at the moment of a feed, when the starter will stand
// at its peak: from the ratio, the hydration, the flour, the temperatures to
// come and what this starter has done before.
//
//	m := timetopeak.New()
//	for _, p := range past { // oldest first
//		m.Learn(p)
//	}
//	span, grounds := m.TopAfter(timetopeak.Mixed(50, 250, 250), timetopeak.Steady(24))
//	// span.Likely is the median, span.Low to span.High hold eight tops in ten
//
// # The model
//
// A culture diluted D times has grown back after ln D generations of its
// growth rate, and its lag times its rate is constant (Baranyi and Roberts,
// Int. J. Food Microbiol. 23:277, 1994). So the work to the top is ln D + c
// in the time of the yeast's own growth, with a small c for all that is not
// dilution. Time runs by a warmth response (response.go): the published ones of
// K. humilis and of S. cerevisiae and the mean of both, each with its weight.
//
// On the logarithm of the warm hours to the top a Bayesian linear model
// (line.go) learns how lively this starter is, its own c, and what hydration,
// wholemeal, a long rest, the fridge and warmth do to it. Before any feed the
// prior stands: published rates and the trade's table of ratios, with the
// width that table has. Each feed narrows it, one odd feed moves it little,
// and what is known of the liveliness slowly fades, for starters change.
//
// There is one such model for each warmth response; how well each foretells
// decides its weight. All is closed form: no search, no chance, no clock.
//
// # What it does not know
//
// It takes the feed's weights and the temperatures as true. A dead starter has
// no top, and no past feed says that the next one will have: TopAfter answers
// when the top comes, not whether.
package timetopeak
