package peak

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"leavend/sensor/sim/simtest"
)

// amounts says how many recordings are drawn. With usual the feeds of kinds take
// as long as feeds do in kitchens, and not any time between 2.5 and 18 hours, and
// every minute is looked at.
type amounts struct {
	kitchen, kinds, blends, quiet, histories, catalogue int
	usual                                               bool
}

// lessons is what the networks learn from.
var lessons = amounts{kitchen: 5500, kinds: 450, blends: 3000, quiet: 1600, histories: 600, catalogue: 25}

// gather draws recordings and watches them. Rides come in the order of their
// sources, whatever the machine.
func gather(a amounts, kinds []family, seed uint64) []ride {
	var makers []func(r *rand.Rand) []ride
	one := func(make func() invented) {
		makers = append(makers, func(r *rand.Rand) []ride {
			rec := firstFeed(make())
			return []ride{watchFeed(rec, recall(rec, r), a.usual)}
		})
	}
	named := func(rec invented, name string) invented {
		rec.name = name
		return rec
	}
	for j := range a.kitchen {
		one(func() invented {
			return named(fromKitchen(simtest.RandomRecording(seed*1_000_000+uint64(j))), "kitchen")
		})
	}
	for i, f := range kinds {
		for j := range a.kinds {
			s := seed*1_000_003 + uint64(i*100_000+j)
			one(func() invented {
				if a.usual {
					return heldBack(f, s, 2*math.Pow(rand.New(rand.NewPCG(s, 43)).Float64(), 2))
				}
				return lesson(f, s)
			})
		}
	}
	for j := range a.blends {
		one(func() invented { return lesson(family{"blend", blendCurve}, seed*1_000_003+40_000_000+uint64(j)) })
	}
	for j := range a.quiet {
		one(func() invented { return quiet(seed*1_000_003 + 50_000_000 + uint64(j)) })
	}
	for _, e := range simtest.Catalogue() {
		if strings.Contains(e.Name, "dough") {
			continue
		}
		for j := range a.catalogue {
			one(func() invented { return named(fromKitchen(e.Record(seed*1000+uint64(j))), "catalogue") })
		}
	}
	for j := range a.histories {
		makers = append(makers, func(r *rand.Rand) (out []ride) {
			rec := fromKitchen(simtest.History(seed*1_000_000+uint64(j), 5))
			if j%2 == 0 {
				rec = several(kinds[j/2%len(kinds)], seed*1_000_003+70_000_000+uint64(j), 5, true)
			}
			for _, k := range feedByFeed(rec) {
				k.rec.name = "history"
				if r.Float64() < strangers {
					k.past, k.rec.name = estrange(k.past, r), "changed"
				}
				out = append(out, watchFeed(k.rec, k.past, a.usual))
			}
			return out
		})
	}
	parts := make([][]ride, len(makers))
	inParallel(len(makers), func(i int) { parts[i] = makers[i](rand.New(rand.NewPCG(seed, uint64(i)))) })
	var all []ride
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// lesson invents one marked feed of a kind to learn from: any rise of 8 to
// 150 mm, 2 to 60 s between readings, wander up to twice a real sensor's.
func lesson(f family, seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 23))
	k := newScene(r)
	warmPeak, rise := logUniform(r, 2.5, 18), logUniform(r, 8, 150)
	if r.IntN(2) == 0 { // as long as feeds take in kitchens
		warmPeak = math.Exp(math.Log(6.5) + 0.4*r.NormFloat64())
	}
	if r.IntN(2) == 0 {
		rise = uniform(r, 20, 100)
	}
	return k.oneFeed(f, warmPeak, rise)
}

// describe counts what was gathered.
func describe(rides []ride) string {
	looks, moments, known := 0, 0, 0
	for i := range rides {
		looks += len(rides[i].looks)
		moments += len(rides[i].moments)
		if rides[i].known {
			known++
		}
	}
	return fmt.Sprintf("%d feeds, %d of them with a past; %d moments for the call, %d for the forecast", len(rides), known, looks, moments)
}
