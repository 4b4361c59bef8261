package simtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"leavend/sensor/sim"
)

// The families of curves and the cases of trouble that RandomRecording draws
// from, in the order in which seeds walk through them.
var (
	families = [...]string{"dome", "flat", "sharp", "shoulder", "slow", "crater", "weak", "jerky", "wide", "double"}
	cases    = [...]string{"clean", "noisy", "lifted", "gappy", "mat", "cool", "hot", "faulty", "foam", "unmarked", "messy"}
	nopeaks  = [...]string{"dead", "creep", "climbing", "chilled"}
)

// RandomRecording draws a recording over the whole range of this package:
// every fifth seed has no top (a dead starter, one that creeps, one that is
// still climbing at the end, one that stays in the fridge), the others walk
// through all pairs of family and case. The same seed gives the same recording.
//
// A draw whose truth cannot be told from the curve (it rises by 3 to 8 mm,
// has just begun to fall at the end, or fell by itself before it rose higher)
// is drawn again.
func RandomRecording(seed uint64) *sim.Recording {
	for try := range uint64(200) {
		rng := sim.NewRand(seed+try<<48, "recording")
		o := randomOpts(seed, rng)
		o.Seed = seed + try<<48
		if r, ok := settle(o, rng); ok {
			r.Truth.Seed = seed
			return r
		}
	}
	// Not reached by any seed tried; a plain dome is better than none.
	return sim.Record(sim.RecordOpts{Seed: seed, Family: "dome", Case: "clean", Name: fmt.Sprintf("dome-clean-%d", seed)})
}

// randomOpts draws everything about a recording but its end.
func randomOpts(seed uint64, rng *rand.Rand) sim.RecordOpts {
	o := sim.RecordOpts{
		Start:   time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(seed%9000)*24*time.Hour + time.Duration(rng.IntN(86400))*time.Second),
		Every:   []time.Duration{10, 15, 15, 15, 20, 30, 60}[rng.IntN(7)] * time.Second,
		Length:  40 * time.Hour,
		Vessel:  randomVessel(rng),
		Starter: randomStarter(rng),
		Ranger:  randomRanger(rng),
	}
	o.Plant.Room = randomRoom(rng, between(rng, 18, 26))
	o.ProbeOffC = between(rng, -0.4, 0.4)
	ratio := []sim.Ratio{parts(1, 1, 1), parts(1, 2, 2), parts(1, 3, 3), parts(1, 4, 4), parts(1, 5, 5), parts(1, 10, 10), parts(1, 2, 1.6), parts(1, 5, 4)}[rng.IntN(8)]
	o.Feeds = []sim.Feed{{Ratio: ratio, FillML: o.Vessel.VolumeML(between(rng, 28, 60)), WaterC: 0}}
	if chance(rng, 0.3) {
		o.Feeds[0].WaterC = between(rng, 15, 32)
	}
	trouble := ""
	if seed%5 == 4 {
		o.Family = nopeaks[seed/5%uint64(len(nopeaks))]
		o.Case, trouble = "nopeak", cases[rng.IntN(4)]
	} else {
		k := seed/5*4 + seed%5
		o.Family = families[k%uint64(len(families))]
		o.Case = cases[k/uint64(len(families))%uint64(len(cases))]
		trouble = o.Case
	}
	if o.Case != "nopeak" {
		o.Enough = 12 * time.Hour
	}
	o.Name = fmt.Sprintf("%s-%s-%d", o.Family, o.Case, seed)
	becomeFamily(&o, rng)
	befallCase(&o, trouble, rng)
	return o
}

// settle records o, and cuts the recording some hours after its last top (or
// before it, for one that is still climbing). It reports false for a draw
// whose truth could be argued about.
func settle(o sim.RecordOpts, rng *rand.Rand) (*sim.Recording, bool) {
	r := sim.Record(o)
	last := &r.Truth.Feeds[len(r.Truth.Feeds)-1]
	switch o.Family {
	case "dead", "creep", "chilled", "climbing":
		return settleNoTop(r, last, rng)
	}
	for i := range r.Truth.Feeds {
		f := &r.Truth.Feeds[i]
		if !f.Peaked || f.RiseMM < 8 || f.FellMM < 3 || f.Abrupt {
			return nil, false
		}
		// A starter that fell by itself and then rose higher still had a top
		// before its top.
		if !disturbedBefore(&r.Truth, f.TopAfter) && f.DipMM > math.Max(2, 0.05*f.RiseMM) {
			return nil, false
		}
	}
	tail := hours(between(rng, 2.5, 11))
	r.Cut(last.HiAfter + tail)
	return r, r.Truth.Feeds[len(r.Truth.Feeds)-1].FellMM >= 3
}

// settleNoTop keeps what is surely without a top.
func settleNoTop(r *sim.Recording, f *sim.FeedTruth, rng *rand.Rand) (*sim.Recording, bool) {
	end := hours(between(rng, 14, 24))
	if r.Truth.Family == "climbing" {
		// The simulation knows that the top would come later.
		end = time.Duration(between(rng, 0.5, 0.95) * float64(f.LoAfter))
		if !f.Peaked || f.RiseMM < 8 || end < 2*time.Hour {
			return nil, false
		}
	}
	if f.RiseMM >= 3 && end >= f.LoAfter {
		return nil, false
	}
	r.Cut(end)
	return r, !peaked(&r.Truth)
}

// disturbedBefore reports whether something befell the starter itself before a
// moment, so that a dip in its curve was not its own doing.
func disturbedBefore(t *sim.Truth, at time.Duration) bool {
	for _, d := range t.Disturbances {
		switch d.Kind {
		case sim.Knocked, sim.Stirred, sim.Chilled, sim.Sticking:
			if d.At < at {
				return true
			}
		}
	}
	return false
}

// peaked reports whether any feed of the recording had a top.
func peaked(t *sim.Truth) bool {
	return slices.ContainsFunc(t.Feeds, func(f sim.FeedTruth) bool { return f.Peaked })
}
