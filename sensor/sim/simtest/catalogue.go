package simtest

import (
	"time"

	"leavend/sensor/sim"
)

// Entry is a named thing that happens in kitchens, with a recording of it.
type Entry struct {
	Name   string
	Record func(seed uint64) *sim.Recording
}

// Catalogue lists the things that a detector must have a stated behaviour
// for. Each is a starter that would rise and fall as usual, but for the one
// thing that the name says; the seed varies starter, jar and chance.
func Catalogue() []Entry {
	return []Entry{
		{"jar lifted and put back 3 mm off", LiftedJar},
		{"fed and stirred without a press", SilentFeed},
		{"knocked so that it slumps", KnockedJar},
		{"stuck to the glass and slipping", StuckToGlass},
		{"a dome, then a crater", DomeThenCrater},
		{"foam that wanders", WanderingFoam},
		{"condensation", Condensation},
		{"a hand", HandInTheWay},
		{"overflow to the sensor's near limit", Overflow},
		{"second rise after a stir", SecondRise},
		{"fridge half-way and taken out tomorrow", FridgeHalfway},
		{"dead starter", DeadStarter},
		{"daemon off for an hour", DaemonOffForAnHour},
		{"clock jumping", JumpingClock},
		{"ranger unplugged and plugged in again", UnpluggedRanger},
		{"glints from the glass", GlintsFromTheGlass},
		{"probe says 85, then sticks, then is gone", FailingProbe},
		{"a dough to its target and past it", DoughInBowl},
	}
}

// ordinary is the kitchen that the entries of the catalogue disturb, and the
// truth as it would be undisturbed.
func ordinary(seed uint64, name string) (sim.RecordOpts, sim.FeedTruth) {
	rng := sim.NewRand(seed, "catalogue")
	o := sim.RecordOpts{
		Name: name, Family: "ordinary", Case: name, Seed: seed, Length: 20 * time.Hour,
		Vessel: randomVessel(rng),
		Starter: sim.StarterOpts{
			Pace: between(rng, 0.9, 1.3), Hold: between(rng, 1.6, 2.8), Gas: between(rng, 3.5, 5), Firm: between(rng, 3, 6),
			Late: between(rng, 0.2, 0.5), Hunger: between(rng, 0.08, 0.25), Weaken: spread(rng, 0.1, 0.3), Wander: 0.04,
		},
	}
	o.Plant.Room = sim.RoomOpts{MeanC: between(rng, 20, 24), SwingC: between(rng, 0, 1), WanderC: 0.2}
	o.Feeds = []sim.Feed{{Ratio: []sim.Ratio{parts(1, 1, 1), parts(1, 2, 2), parts(1, 3, 3)}[rng.IntN(3)], FillML: o.Vessel.VolumeML(between(rng, 32, 44))}}
	return o, sim.Record(o).Truth.Feeds[0]
}

// on is the moment at the given share of the way from the feed to the top.
func on(f *sim.FeedTruth, share float64) time.Duration {
	return f.FedAfter + time.Duration(share*float64(f.TopAfter-f.FedAfter)).Round(time.Second)
}

// disturbed records the ordinary kitchen with the events that f makes of its
// undisturbed truth.
func disturbed(seed uint64, name string, f func(t sim.FeedTruth) []sim.Event) *sim.Recording {
	o, t := ordinary(seed, name)
	o.Events = f(t)
	return sim.Record(o)
}

// LiftedJar is lifted twice, for two minutes on the way up and for one on top,
// and put back 3 mm nearer, then 2 mm farther than at first.
func LiftedJar(seed uint64) *sim.Recording {
	return disturbed(seed, "jar lifted and put back 3 mm off", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.Lifted, At: on(&t, 0.6), For: 2 * time.Minute, Amount: 3},
			{Kind: sim.Lifted, At: on(&t, 1.02), For: time.Minute, Amount: -2},
		}
	})
}

// SilentFeed is discarded and fed an hour or more after its top while no one
// says so, and rises again.
func SilentFeed(seed uint64) *sim.Recording {
	o, t := ordinary(seed, "fed and stirred without a press")
	again := o.Feeds[0]
	again.At, again.Away, again.Silent, again.OffMM = t.HiAfter+2*time.Hour, 5*time.Minute, true, 1
	o.Feeds = append(o.Feeds, again)
	o.Length = again.At + t.TopAfter + 8*time.Hour
	return sim.Record(o)
}

// KnockedJar loses a fifth of its gas half-way and a quarter once it falls.
func KnockedJar(seed uint64) *sim.Recording {
	return disturbed(seed, "knocked so that it slumps", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.Knocked, At: on(&t, 0.55), Amount: 0.2}, {Kind: sim.Knocked, At: t.HiAfter + 90*time.Minute, Amount: 0.25}}
	})
}

// StuckToGlass clings to the glass and slips by 4 mm at a time, all the way.
func StuckToGlass(seed uint64) *sim.Recording {
	return disturbed(seed, "stuck to the glass and slipping", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.Sticking, At: on(&t, 0.3), For: t.TopAfter + 3*time.Hour, Amount: 4}}
	})
}

// DomeThenCrater rises with a dome of 8 mm and falls with a crater of 15 mm.
func DomeThenCrater(seed uint64) *sim.Recording {
	o, _ := ordinary(seed, "a dome, then a crater")
	o.Starter.DomeMM, o.Starter.CraterMM = 8, 15
	return sim.Record(o)
}

// WanderingFoam has foam moving under the beam from half-way until it falls.
func WanderingFoam(seed uint64) *sim.Recording {
	return disturbed(seed, "foam that wanders", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.Foaming, At: on(&t, 0.5), For: t.HiAfter, Amount: 2.5}}
	})
}

// Condensation fogs the cover for two hours before the top and comes back
// thinner as it falls.
func Condensation(seed uint64) *sim.Recording {
	return disturbed(seed, "condensation", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.Condensing, At: on(&t, 0.5), For: 2 * time.Hour, Amount: 4},
			{Kind: sim.Condensing, At: t.HiAfter + time.Hour, For: time.Hour, Amount: 2},
		}
	})
}

// HandInTheWay reaches into the beam again and again, once for ten minutes.
func HandInTheWay(seed uint64) *sim.Recording {
	return disturbed(seed, "a hand", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.Hand, At: on(&t, 0.35), For: 20 * time.Second},
			{Kind: sim.Hand, At: on(&t, 0.7), For: 2 * time.Minute},
			{Kind: sim.Hand, At: on(&t, 0.95), For: 10 * time.Minute},
			{Kind: sim.Hand, At: on(&t, 1.3), For: time.Minute},
		}
	})
}

// Overflow is filled so high that it runs over the rim, which stands within
// the sensor's near limit.
func Overflow(seed uint64) *sim.Recording {
	o, _ := ordinary(seed, "overflow to the sensor's near limit")
	v := o.Vessel
	v.SensorMM = v.RimMM + 34
	o.Vessel = v
	o.Feeds[0].FillML = v.VolumeML(0.62 * v.RimMM)
	return sim.Record(o)
}

// SecondRise is stirred down a while after its top, not fed, with much sugar
// left: it rises a second time, and not as high.
func SecondRise(seed uint64) *sim.Recording {
	o, _ := ordinary(seed, "second rise after a stir")
	o.Starter.Gas, o.Starter.Hold, o.Starter.Late, o.Starter.Linger = 7, 1.3, 0.6, 2.5
	t := sim.Record(o).Truth.Feeds[0]
	o.Events = []sim.Event{{Kind: sim.Stirred, At: t.HiAfter + 30*time.Minute}}
	return sim.Record(o)
}

// FridgeHalfway is put into the fridge at 45 % of its way, away from the
// sensor, and taken out fourteen hours later, 1 mm off.
func FridgeHalfway(seed uint64) *sim.Recording {
	o, t := ordinary(seed, "fridge half-way and taken out tomorrow")
	o.Length = 44 * time.Hour
	in := on(&t, 0.45)
	o.Events = []sim.Event{
		{Kind: sim.Chilled, At: in, For: 14 * time.Hour, Amount: 4},
		{Kind: sim.Lifted, At: in + 14*time.Hour, Amount: 1},
	}
	return sim.Record(o)
}

// DeadStarter does nothing, but is lifted and has foam that settles.
func DeadStarter(seed uint64) *sim.Recording {
	return again(disturbed(seed, "dead starter", func(sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.Lifted, At: 5 * time.Hour, For: time.Minute, Amount: 2}}
	}), func(o *sim.RecordOpts) { o.Starter.Dead, o.Starter.Air = true, 0.05 })
}

// again records once more with options changed.
func again(r *sim.Recording, f func(o *sim.RecordOpts)) *sim.Recording {
	o := r.Opts
	f(&o)
	return sim.Record(o)
}

// DaemonOffForAnHour records nothing for an hour, just before the top.
func DaemonOffForAnHour(seed uint64) *sim.Recording {
	return disturbed(seed, "daemon off for an hour", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.DaemonOff, At: t.TopAfter - 75*time.Minute, For: time.Hour}}
	})
}

// JumpingClock has a wall clock that starts behind, is set right by an hour,
// goes back by half an hour, and on by a minute.
func JumpingClock(seed uint64) *sim.Recording {
	return disturbed(seed, "clock jumping", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.ClockStep, At: on(&t, 0.25), Amount: 3600},
			{Kind: sim.ClockStep, At: on(&t, 0.6), Amount: -1800},
			{Kind: sim.ClockStep, At: on(&t, 0.9), Amount: 60},
		}
	})
}

// UnpluggedRanger has no distance for half an hour on the way up.
func UnpluggedRanger(seed uint64) *sim.Recording {
	return disturbed(seed, "ranger unplugged and plugged in again", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{{Kind: sim.Blind, At: on(&t, 0.6), For: 30 * time.Minute}}
	})
}

// GlintsFromTheGlass sees a gloss at 22 to 27 mm in a third of the readings
// for an hour, and in nearly all for ten minutes.
func GlintsFromTheGlass(seed uint64) *sim.Recording {
	return disturbed(seed, "glints from the glass", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.Glinting, At: on(&t, 0.5), For: time.Hour, Amount: 0.33},
			{Kind: sim.Glinting, At: on(&t, 0.85), For: 10 * time.Minute, Amount: 0.95},
		}
	})
}

// FailingProbe shows 85 °C for a minute, then repeats itself for two hours,
// then is gone.
func FailingProbe(seed uint64) *sim.Recording {
	return disturbed(seed, "probe says 85, then sticks, then is gone", func(t sim.FeedTruth) []sim.Event {
		return []sim.Event{
			{Kind: sim.ProbeAt85, At: on(&t, 0.3), For: time.Minute},
			{Kind: sim.ProbeStuck, At: on(&t, 0.4), For: 2 * time.Hour},
			{Kind: sim.ProbeGone, At: on(&t, 0.8), For: 12 * time.Hour},
		}
	})
}

// DoughInBowl is a bread dough that reaches 1.75 times its height, goes on,
// and falls in the end. Truth.ReachedAfter says when.
func DoughInBowl(seed uint64) *sim.Recording {
	rng := sim.NewRand(seed, "bowl")
	d := sim.Dough()
	d.Pace *= between(rng, 0.85, 1.15)
	d.Hold *= between(rng, 0.9, 1.2)
	return sim.Record(sim.RecordOpts{
		Name: "a dough to its target and past it", Family: "dough", Case: "dough", Seed: seed, Length: 22 * time.Hour,
		Vessel:  sim.Vessel{BottomMM: between(rng, 160, 200), TopMM: between(rng, 220, 260), RimMM: 190, SensorMM: 260},
		Starter: d,
		Feeds:   []sim.Feed{{Ratio: sim.BreadDough(), FillML: between(rng, 1100, 1600), WaterC: between(rng, 22, 27)}},
		Plant:   sim.PlantOpts{Room: sim.RoomOpts{MeanC: between(rng, 20, 25), SwingC: 0.5}},
	})
}
