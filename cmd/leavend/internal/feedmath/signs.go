package feedmath

// Sign is something a baker sees or smells, and what the trade makes of it.
type Sign struct {
	Name   string // as seen
	Means  string
	Do     string
	Throw  bool   // the whole starter goes into the bin
	Source string // where the rule comes from
}

// Signs returns what a baker should know by sight and smell. No sensor here
// sees any of them: a good rise never means that a starter is safe to eat.
func Signs() []Sign {
	const miller, common = "support page and guide of a flour miller", "common practice"
	return []Sign{
		{"clear, grey or dark liquid on top", "it is hungry", "pour it off and feed it; throw the starter away if it is fuzzy, coloured or foul besides", false, common},
		{"a flat white film, smooth or in folds", "wild yeast on the surface of a hungry starter", "take it off, keep a spoon from below, feed it in a clean jar; if you are not sure that it is no fuzz, throw it away", false, common},
		{"fuzz, raised or hairy, of any colour", "mould: it has spoilt", "throw all of it away, jar and all unless it can be scalded", true, miller},
		{"pink, orange or red streaks or liquid", "other microbes have taken over", "throw all of it away", true, miller},
		{"a foul smell, of rot or vomit, unlike sour, fruit, beer or vinegar", "other microbes have taken over", "throw it away", true, common},
		{"a sharp smell of vinegar or nail varnish", "it is hungry", "feed it", false, common},
		{"a new starter that rises strongly in its first days and then stands still", "the first burst is of other microbes and no ripeness", "go on feeding; eat none of its discard in its first week", false, common},
		{"raw flour, dough and starter", "flour is raw and can carry germs: 63 people fell ill from it in 2016", "do not taste them, and wash your hands", false, "CDC and FDA, as the press reported"},
		{"dough with milk, egg or soaked grain", "what it holds spoils in the warmth", "do not keep it on the mat for long; cold, and baked the same day", false, common},
		{"a loaf that may not be baked through", "the crumb is set at 93 to 98 °C inside", "measure in the middle, and bake on below that", false, common},
		{"you are not sure what you see", "no sensor here sees it either", "throw it away; a new one costs flour and a week", true, common},
	}
}
