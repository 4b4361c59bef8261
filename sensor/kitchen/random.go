package kitchen

import (
	"fmt"
	"math/rand/v2"
	"time"
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
// A draw whose truth nobody could tell from the curve (it rises by 3 to 8 mm,
// or it has just begun to fall at the end) is drawn again.
func RandomRecording(seed uint64) *Recording {
	for try := range uint64(200) {
		rng := newRand(seed+try<<48, "recording")
		o := randomOpts(seed, rng)
		o.Seed = seed + try<<48
		if r, ok := settle(o, rng); ok {
			r.Truth.Seed = seed
			return r
		}
	}
	// Not reached by any seed tried; a plain dome is better than none.
	return Record(RecordOpts{Seed: seed, Family: "dome", Case: "clean", Name: fmt.Sprintf("dome-clean-%d", seed)})
}

// randomOpts draws everything about a recording but its end.
func randomOpts(seed uint64, rng *rand.Rand) RecordOpts {
	o := RecordOpts{
		Start:   time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(seed%9000)*24*time.Hour + time.Duration(rng.IntN(86400))*time.Second),
		Every:   []time.Duration{10, 15, 15, 15, 20, 30, 60}[rng.IntN(7)] * time.Second,
		Length:  40 * time.Hour,
		Vessel:  randomVessel(rng),
		Starter: randomStarter(rng),
		Ranger:  randomRanger(rng),
	}
	o.Plant.Room = randomRoom(rng, between(rng, 18, 26))
	o.ProbeOffC = between(rng, -0.4, 0.4)
	ratio := []Ratio{{1, 1, 1}, {1, 2, 2}, {1, 3, 3}, {1, 4, 4}, {1, 5, 5}, {1, 10, 10}, {1, 2, 1.6}, {1, 5, 4}}[rng.IntN(8)]
	o.Feeds = []Feed{{Ratio: ratio, FillML: o.Vessel.VolumeML(between(rng, 28, 60)), WaterC: 0}}
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
		o.enough = 12 * time.Hour
	}
	o.Name = fmt.Sprintf("%s-%s-%d", o.Family, o.Case, seed)
	becomeFamily(&o, rng)
	befallCase(&o, trouble, rng)
	return o
}

// randomStarter is the middle of the range; a family pulls it one way.
func randomStarter(rng *rand.Rand) StarterOpts {
	s := StarterOpts{
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
		s.Yeast = Cerevisiae
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
func becomeFamily(o *RecordOpts, rng *rand.Rand) {
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
		s.Brittle, s.Firm, s.Hunger = between(rng, 5, 14), between(rng, 8, 16), spread(rng, 0.02, 0.1)
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
		o.Events = append(o.Events, Event{Kind: Stirred, At: hours(between(rng, 1.5, 6))})
	case "dead":
		s.Dead, s.Vitality = chance(rng, 0.5), 1e-6
	case "creep":
		s.Vitality, s.Pace, s.Lag = spread(rng, 0.3, 1), between(rng, 0.12, 0.35), 0.05
		s.Gas, s.Leak, s.Wander = between(rng, 3, 8), spread(rng, 0.005, 0.03), 0
	case "climbing":
		s.Pace, s.Vitality = between(rng, 0.5, 0.9), spread(rng, 0.4, 1)
		o.Feeds[0].Ratio = []Ratio{{1, 5, 5}, {1, 10, 10}, {1, 4, 4}}[rng.IntN(3)]
	case "chilled":
		o.Events = append(o.Events, Event{Kind: Chilled, At: hours(between(rng, 0.5, 2)), For: hours(39), Amount: between(rng, 3, 6)})
	}
}

// befallCase adds the trouble of one case.
func befallCase(o *RecordOpts, trouble string, rng *rand.Rand) {
	at := func() time.Duration { return hours(between(rng, 0.3, 14)) }
	add := func(k Kind, f, amount float64) {
		o.Events = append(o.Events, Event{Kind: k, At: at(), For: hours(f), Amount: amount})
	}
	switch trouble {
	case "noisy":
		o.Ranger.WhiteMM, o.Ranger.DriftMM = between(rng, 1.5, 3.5), between(rng, 0.5, 2)
		o.Ranger.SpikeShare, o.Ranger.MissShare = spread(rng, 0.002, 0.03), spread(rng, 0.005, 0.1)
	case "lifted":
		for range 1 + rng.IntN(3) {
			add(Lifted, between(rng, 0.01, 0.15), between(rng, -4, 4))
		}
		add(Hand, between(rng, 0.01, 0.05), 0)
	case "gappy":
		for range 1 + rng.IntN(4) {
			add(DaemonOff, spread(rng, 0.05, 1.5), 0)
		}
		o.Ranger.MissShare = spread(rng, 0.02, 0.25)
	case "mat":
		o.SetpointC, o.Plant.Room = between(rng, 23, 28), randomRoom(rng, between(rng, 16, 21))
		o.Plant.MatW = spread(rng, 12, 40)
	case "cool":
		o.Plant.Room, o.Length = randomRoom(rng, between(rng, 14.5, 18.5)), 64*time.Hour
	case "hot":
		o.Plant.Room = randomRoom(rng, between(rng, 27, 31))
	case "faulty":
		faults := []Kind{ProbeGone, ProbeStuck, ProbeAt85, ProbeOut, Blind, Glinting, DoorOpen, Hand, Knocked}
		for range 2 + rng.IntN(4) {
			befall(o, rng, faults[rng.IntN(len(faults))], at())
		}
	case "foam":
		add(Foaming, between(rng, 1, 6), between(rng, 1, 3))
		add(Condensing, between(rng, 0.5, 4), between(rng, 1, 5))
	case "unmarked":
		o.Feeds = append(o.Feeds, Feed{
			At: hours(between(rng, 12, 22)), Ratio: o.Feeds[0].Ratio, FillML: o.Feeds[0].FillML * between(rng, 0.85, 1.15),
			Away: hours(between(rng, 0.03, 0.15)), Silent: true, OffMM: between(rng, -2, 2), PaceBy: between(rng, 0.9, 1.1),
		})
	case "messy":
		any := []Kind{Lifted, Hand, Knocked, Sticking, Foaming, Condensing, Glinting, Blind, DaemonOff, ClockStep, ProbeGone, ProbeAt85, DoorOpen}
		for range 3 + rng.IntN(5) {
			befall(o, rng, any[rng.IntN(len(any))], at())
		}
	}
}

// befall schedules one trouble of ordinary size.
func befall(o *RecordOpts, rng *rand.Rand, k Kind, at time.Duration) {
	e := Event{Kind: k, At: at, For: hours(spread(rng, 0.02, 0.7))}
	switch k {
	case Lifted:
		e.For, e.Amount = hours(between(rng, 0.01, 0.12)), between(rng, -4, 4)
	case Hand:
		e.For = hours(between(rng, 0.005, 0.05))
	case Knocked:
		e.For, e.Amount = 0, between(rng, 0.05, 0.25)
	case Sticking:
		e.For, e.Amount = hours(between(rng, 1, 4)), between(rng, 1.5, 5)
	case Foaming, Condensing:
		e.For, e.Amount = hours(between(rng, 0.5, 4)), between(rng, 1, 4)
	case Glinting:
		e.Amount = spread(rng, 0.02, 0.6)
	case ClockStep:
		e.For, e.Amount = 0, []float64{-3600, -600, -30, 30, 600, 3600, 86400}[rng.IntN(7)]
	case DoorOpen:
		e.For, e.Amount = 0, between(rng, 2, 6)
	}
	o.Events = append(o.Events, e)
}

// settle records o, and cuts the recording some hours after its last top (or
// before it, for one that is still climbing). It reports false for a draw
// whose truth could be argued about.
func settle(o RecordOpts, rng *rand.Rand) (*Recording, bool) {
	r := Record(o)
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
	}
	tail := hours(between(rng, 2.5, 11))
	r.Cut(last.HiAfter + tail)
	return r, r.Truth.Feeds[len(r.Truth.Feeds)-1].FellMM >= 3
}

// settleNoTop keeps what is surely without a top.
func settleNoTop(r *Recording, f *FeedTruth, rng *rand.Rand) (*Recording, bool) {
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
	return r, !r.Truth.Peaked()
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// randomVessel is a jar of half a litre to a litre and a half.
func randomVessel(rng *rand.Rand) Vessel {
	d := between(rng, 70, 105)
	v := Vessel{BottomMM: d, TopMM: d, RimMM: between(rng, 150, 210)}
	if chance(rng, 0.4) {
		v.TopMM = d * between(rng, 1.02, 1.3)
	}
	v.SensorMM = v.RimMM + between(rng, 45, 80)
	return v
}

func randomRanger(rng *rand.Rand) RangerOpts {
	return RangerOpts{
		WhiteMM: between(rng, 0.3, 1.2), DriftMM: between(rng, 0.05, 0.8), DriftFor: time.Duration(spread(rng, 20, 600)) * time.Second,
		SpikeShare: spread(rng, 0.0002, 0.004), GlintShare: spread(rng, 0.0001, 0.002), MissShare: spread(rng, 0.0005, 0.02),
	}
}

// randomRoom is a kitchen about the given mean.
func randomRoom(rng *rand.Rand, mean float64) RoomOpts {
	o := RoomOpts{MeanC: mean, SwingC: between(rng, 0, 1.5), WanderC: between(rng, 0, 0.5)}
	if chance(rng, 0.4) {
		o.NightC = between(rng, 0.5, 4)
	}
	if chance(rng, 0.5) {
		o.DoorC, o.DoorsADay = between(rng, 1, 5), between(rng, 2, 12)
	}
	return o
}
