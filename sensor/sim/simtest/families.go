package simtest

import (
	"math/rand/v2"

	"leavend/sensor/sim"
)

// randomStarter is the middle of the range; a family pulls it one way.
func randomStarter(rng *rand.Rand) sim.StarterOpts {
	s := sim.StarterOpts{
		Vitality: spread(rng, 0.5, 1.2),
		Pace:     between(rng, 0.8, 1.4),
		Lag:      spread(rng, 0.05, 0.7),
		Late:     between(rng, 0.1, 0.6),
		Wait:     spread(rng, 0.1, 1),
		Linger:   spread(rng, 1, 2),
		Hunger:   spread(rng, 0.04, 0.4),
		Release:  spread(rng, 0.003, 0.04),
		Gas:      between(rng, 2.5, 6),
		Hold:     between(rng, 1.2, 3),
		Air:      between(rng, 0.001, 0.06),
		Foam:     between(rng, 0.02, 0.35),
		Leak:     spread(rng, 0.03, 0.2),
		Firm:     spread(rng, 3, 12),
		Weaken:   spread(rng, 0.06, 0.5),
		Age:      spread(rng, 0.003, 0.04),
		Wander:   between(rng, 0, 0.1),
	}
	if chance(rng, 0.3) {
		s.Yeast = sim.Cerevisiae
	}
	if chance(rng, 0.4) {
		s.Brittle = between(rng, 0.5, 5)
	}
	if chance(rng, 0.4) {
		s.DomeMM, s.CraterMM = between(rng, 0, 4), between(rng, 0, 6)
	}
	return s
}

// becomeFamily pulls the starter towards one shape.
func becomeFamily(o *sim.RecordOpts, rng *rand.Rand) {
	s := &o.Starter
	switch o.Family {
	case "dome":
		s.Firm, s.Hunger, s.Brittle = between(rng, 2.5, 5), between(rng, 0.15, 0.5), 0
	case "flat":
		// What the enzymes set free and what leaks out balance for hours.
		s.Leak, s.Gas, s.Release = between(rng, 0.3, 0.9), between(rng, 7, 11), between(rng, 0.08, 0.2)
		s.Late, s.Wait, s.Linger = between(rng, 0.1, 0.4), 0.1, 1
		s.Weaken, s.Age, s.Firm, s.Brittle = spread(rng, 0.02, 0.06), 0.005, between(rng, 2, 5), 0
		s.Hold, s.Wander = between(rng, 2, 4), between(rng, 0, 0.04)
	case "sharp":
		s.Brittle, s.Firm, s.Hunger = spread(rng, 1.5, 12), between(rng, 6, 16), spread(rng, 0.02, 0.15)
		s.Hold = between(rng, 0.8, 1.8)
	case "shoulder":
		// The free sugars are gone at most of the height; from then on the
		// enzymes set the pace until the film tears.
		s.Late, s.Wait, s.Linger = between(rng, 0.2, 0.5), spread(rng, 0.3, 3), spread(rng, 3, 12)
		s.Gas = between(rng, 1.8, 3.5)
		s.Hold = s.Gas * between(rng, 0.9, 1.4)
		s.Hunger, s.Leak, s.Weaken = spread(rng, 0.02, 0.06), spread(rng, 0.005, 0.03), spread(rng, 0.05, 0.2)
		s.Brittle, s.Firm, s.Release = between(rng, 5, 14), between(rng, 10, 16), between(rng, 0.02, 0.07)
	case "slow":
		s.Weaken, s.Age, s.Brittle = spread(rng, 0.02, 0.06), spread(rng, 0.002, 0.01), 0
		s.Leak, s.Firm = between(rng, 0.04, 0.1), between(rng, 2.5, 5)
	case "crater":
		s.DomeMM, s.CraterMM = between(rng, 3, 9), between(rng, 6, 18)
		s.Brittle = between(rng, 0, 8)
	case "weak":
		s.Vitality, s.Hold, s.Gas = spread(rng, 0.08, 0.4), between(rng, 0.4, 1), between(rng, 1.2, 2.5)
	case "jerky":
		s.Burps, s.Wander = between(rng, 2, 12), between(rng, 0.1, 0.25)
	case "wide":
		s.Firm, s.Hunger, s.Brittle = spread(rng, 2, 16), spread(rng, 0.02, 0.6), between(rng, 0, 12)
		s.Weaken, s.Leak, s.Linger = spread(rng, 0.02, 0.8), spread(rng, 0.01, 0.5), spread(rng, 1, 6)
		s.Gas, s.Late, s.Wander = between(rng, 2, 10), between(rng, 0, 0.8), between(rng, 0, 0.25)
	case "double":
		// Stirred down on the way up or near the top: it rises a second time.
		s.Late, s.Gas, s.Weaken = between(rng, 0.4, 0.7), between(rng, 5, 8), spread(rng, 0.03, 0.12)
		o.Events = append(o.Events, sim.Event{Kind: sim.Stirred, At: hours(between(rng, 1.5, 6))})
	case "dead":
		s.Dead, s.Vitality = chance(rng, 0.5), 1e-6
	case "creep":
		s.Vitality, s.Pace, s.Lag = spread(rng, 0.3, 1), between(rng, 0.12, 0.35), 0.05
		s.Gas, s.Leak, s.Wander = between(rng, 3, 8), spread(rng, 0.005, 0.03), 0
	case "climbing":
		s.Pace, s.Vitality = between(rng, 0.5, 0.9), spread(rng, 0.4, 1)
		o.Feeds[0].Ratio = []sim.Ratio{parts(1, 5, 5), parts(1, 10, 10), parts(1, 4, 4)}[rng.IntN(3)]
	case "chilled":
		o.Events = append(o.Events, sim.Event{Kind: sim.Chilled, At: hours(between(rng, 0.5, 2)), For: hours(39), Amount: between(rng, 3, 6)})
	}
}
