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
	const miller = "support page and guide of a flour miller"
	return []Sign{
		{"clear or grey liquid on top", "it is hungry", "pour it off or stir it in, then feed", false, miller},
		{"black liquid on top", "it stood far too long", "throw it away", true, miller},
		{"mould, of any colour", "it has spoilt", "throw all of it away, jar and all unless it can be scalded", true, miller},
		{"pink, orange or red streaks", "other microbes have taken over", "throw all of it away", true, miller},
		{"a foul smell, unlike sour, fruit, beer or vinegar", "other microbes have taken over", "throw it away", true, "common practice"},
		{"a sharp smell of vinegar or nail varnish", "it is hungry", "feed it", false, "common practice"},
	}
}
