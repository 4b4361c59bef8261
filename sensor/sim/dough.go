package sim

// BreadDough returns a lean wheat dough as a feed: a fifth of ripe starter on the
// fresh flour and 65 % of water (common practice).
func BreadDough() Ratio { return Ratio{Starter: 20, Flour: 100, Water: 65} }

// Dough is the character of a bread dough: salt slows it a little, kneading
// makes a film that holds long, and flour enough keeps it fed. It is mixed by
// feeding BreadDough, and rises to a target and past it.
func Dough() StarterOpts {
	return StarterOpts{
		Pace: 1.1, Lag: 0.3, Late: 0.5, Wait: 0.2, Hunger: 0.12, Release: 0.02,
		Gas: 4.5, Hold: 2.2, Foam: 0.3, Leak: 0.04, Firm: 4, Weaken: 0.12, Age: 0.01, DomeMM: 4, CraterMM: 3,
	}
}
