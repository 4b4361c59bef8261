package simtest

import (
	"fmt"
	"time"

	"leavend/sensor/sim"
)

// History records the same starter over many feeds: its character stays, each
// feed differs a little in pace (4 % one standard deviation), hold, amount and
// warmth, and the room's temperature wanders over the days. Every feed is
// marked and has its top before the next. The same seed gives the same history.
func History(seed uint64, feeds int) *sim.Recording {
	feeds = max(1, feeds)
	var r *sim.Recording
	for try := range uint64(60) {
		o := historyOpts(seed, seed+try<<48, feeds)
		if r = sim.Record(o); allPeaked(&r.Truth) {
			break
		}
	}
	r.Truth.Seed = seed
	return r
}

func historyOpts(name, seed uint64, feeds int) sim.RecordOpts {
	rng := sim.NewRand(seed, "history")
	family := families[rng.IntN(7)] // those without burps and stirs
	o := sim.RecordOpts{
		Name: fmt.Sprintf("history-%s-%d", family, name), Family: family, Case: "history", Seed: seed,
		Start: time.Date(2027, 2, 1, 6, 0, 0, 0, time.UTC).Add(time.Duration(rng.IntN(86400)) * time.Second),
		Every: 30 * time.Second, Settled: 2, Vessel: randomVessel(rng), Starter: randomStarter(rng), Ranger: randomRanger(rng),
	}
	o.Feeds = []sim.Feed{{}}
	becomeFamily(&o, rng)
	o.Plant.Room = sim.RoomOpts{MeanC: between(rng, 20, 24), SwingC: between(rng, 0, 1.5), WanderC: 0.3, WeatherC: between(rng, 0.5, 1.5)}
	if chance(rng, 0.3) {
		o.SetpointC = between(rng, 24, 27)
	}
	ratio := []sim.Ratio{parts(1, 1, 1), parts(1, 2, 2), parts(1, 3, 3), parts(1, 5, 5)}[rng.IntN(4)]
	fill := o.Vessel.VolumeML(between(rng, 30, 50))
	every := between(rng, 20, 28)
	o.Feeds = o.Feeds[:0]
	for i := range feeds {
		f := sim.Feed{
			At: hours(every*float64(i) + between(rng, -0.5, 0.5)), Ratio: ratio, FillML: fill * between(rng, 0.94, 1.06),
			WaterC: between(rng, 20, 27), OffMM: between(rng, -1.5, 1.5),
			PaceBy: 1 + 0.04*rng.NormFloat64(), HoldBy: 1 + 0.03*rng.NormFloat64(),
		}
		if f.Away = hours(between(rng, 0.04, 0.12)); i == 0 {
			f.At, f.Away, f.OffMM = 0, 0, 0
		}
		o.Feeds = append(o.Feeds, f)
	}
	o.Length = hours(every * float64(feeds))
	return o
}

func allPeaked(t *sim.Truth) bool {
	for i := range t.Feeds {
		if f := &t.Feeds[i]; !f.Peaked || f.RiseMM < 10 || f.FellMM < 4 || f.Abrupt {
			return false
		}
	}
	return true
}
