package simtest

import (
	"math/rand/v2"
	"time"

	"leavend/sensor/sim"
)

// befallCase adds the trouble of one case.
func befallCase(o *sim.RecordOpts, trouble string, rng *rand.Rand) {
	at := func() time.Duration { return hours(between(rng, 0.3, 14)) }
	add := func(k sim.Kind, f, amount float64) {
		o.Events = append(o.Events, sim.Event{Kind: k, At: at(), For: hours(f), Amount: amount})
	}
	switch trouble {
	case "noisy":
		o.Ranger.WhiteMM, o.Ranger.Wander = between(rng, 1.5, 3.5), scaled(sim.MeasuredWander(), spread(rng, 0.3, 2), spread(rng, 0.5, 2))
		o.Ranger.SpikeShare, o.Ranger.MissShare = spread(rng, 0.002, 0.03), spread(rng, 0.005, 0.1)
	case "lifted":
		for range 1 + rng.IntN(3) {
			add(sim.Lifted, between(rng, 0.01, 0.15), between(rng, -4, 4))
		}
		add(sim.Hand, between(rng, 0.01, 0.05), 0)
	case "gappy":
		for range 1 + rng.IntN(4) {
			add(sim.DaemonOff, spread(rng, 0.05, 1.5), 0)
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
		faults := []sim.Kind{sim.ProbeGone, sim.ProbeStuck, sim.ProbeAt85, sim.ProbeOut, sim.Blind, sim.Glinting, sim.DoorOpen, sim.Hand, sim.Knocked}
		for range 2 + rng.IntN(4) {
			befall(o, rng, faults[rng.IntN(len(faults))], at())
		}
	case "foam":
		add(sim.Foaming, between(rng, 1, 6), between(rng, 1, 3))
		add(sim.Condensing, between(rng, 0.5, 4), between(rng, 1, 5))
	case "unmarked":
		o.Feeds = append(o.Feeds, sim.Feed{
			At: hours(between(rng, 12, 22)), Ratio: o.Feeds[0].Ratio, FillML: o.Feeds[0].FillML * between(rng, 0.85, 1.15),
			Away: hours(between(rng, 0.03, 0.15)), Silent: true, OffMM: between(rng, -2, 2), PaceBy: between(rng, 0.9, 1.1),
		})
	case "messy":
		any := []sim.Kind{sim.Lifted, sim.Hand, sim.Knocked, sim.Sticking, sim.Foaming, sim.Condensing, sim.Glinting, sim.Blind, sim.DaemonOff, sim.ClockStep, sim.ProbeGone, sim.ProbeAt85, sim.DoorOpen}
		for range 3 + rng.IntN(5) {
			befall(o, rng, any[rng.IntN(len(any))], at())
		}
	}
}

// befall schedules one trouble of ordinary size.
func befall(o *sim.RecordOpts, rng *rand.Rand, k sim.Kind, at time.Duration) {
	e := sim.Event{Kind: k, At: at, For: hours(spread(rng, 0.02, 0.7))}
	switch k {
	case sim.Lifted:
		e.For, e.Amount = hours(between(rng, 0.01, 0.12)), between(rng, -4, 4)
	case sim.Hand:
		e.For = hours(between(rng, 0.005, 0.05))
	case sim.Knocked:
		e.For, e.Amount = 0, between(rng, 0.05, 0.25)
	case sim.Sticking:
		e.For, e.Amount = hours(between(rng, 1, 4)), between(rng, 1.5, 5)
	case sim.Foaming, sim.Condensing:
		e.For, e.Amount = hours(between(rng, 0.5, 4)), between(rng, 1, 4)
	case sim.Glinting:
		e.Amount = spread(rng, 0.02, 0.6)
	case sim.ClockStep:
		e.For, e.Amount = 0, []float64{-3600, -600, -30, 30, 600, 3600, 86400}[rng.IntN(7)]
	case sim.DoorOpen:
		e.For, e.Amount = 0, between(rng, 2, 6)
	}
	o.Events = append(o.Events, e)
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// randomVessel is a jar of half a litre to a litre and a half, now and then a
// narrow glass or a wide tub.
func randomVessel(rng *rand.Rand) sim.Vessel {
	d := between(rng, 70, 105)
	switch p := rng.Float64(); {
	case p < 0.08:
		d = between(rng, 48, 70)
	case p < 0.16:
		d = between(rng, 105, 150)
	}
	v := sim.Vessel{BottomMM: d, TopMM: d, RimMM: between(rng, 150, 210)}
	if chance(rng, 0.4) {
		v.TopMM = d * between(rng, 1.02, 1.3)
	}
	v.SensorMM = v.RimMM + between(rng, 45, 80)
	return v
}

// randomRoom is a kitchen about the given mean.
func randomRoom(rng *rand.Rand, mean float64) sim.RoomOpts {
	o := sim.RoomOpts{MeanC: mean, SwingC: between(rng, 0, 1.5), WanderC: between(rng, 0, 0.5)}
	if chance(rng, 0.4) {
		o.NightC = between(rng, 0.5, 4)
	}
	if chance(rng, 0.5) {
		o.DoorC, o.DoorsADay = between(rng, 1, 5), between(rng, 2, 12)
	}
	return o
}
