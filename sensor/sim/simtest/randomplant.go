package simtest

import (
	"math"
	"math/rand/v2"
	"time"

	"leavend/sensor/sim"
)

// RandomPlant draws a plant over the whole range that a thermostat has to
// cope with: 0.2 to 3 kg of contents, mats of 8 to 40 W, dead times of 1 to
// 25 minutes from mat to contents, a probe's lag of 10 s to 3 min, and a room
// between 12 and 28 °C with its course over the day, its heating off at night
// and its door opened. The plant starts at the temperature of its room.
func RandomPlant(rng *rand.Rand) *sim.Plant {
	o := sim.PlantOpts{
		Seed:       rng.Uint64(),
		Room:       RandomRoom(rng),
		MatW:       spread(rng, 8, 40),
		MatJK:      spread(rng, 80, 800),
		CoupleWK:   spread(rng, 0.7, 4),
		ContentsKg: spread(rng, 0.2, 3),
		ProbeDepth: between(rng, 0, 0.6),
		ProbeLag:   time.Duration(spread(rng, 10, 180)) * time.Second,
		MatLag:     time.Duration(spread(rng, 5, 60)) * time.Second,
	}
	// A bare mat stands 14 to 24 °C above the room (published surfaces reach
	// 35 to 40 °C in a room of 21 to 24 °C).
	o.MatLossWK = o.MatW / between(rng, 14, 24)
	o.GlassJK = spread(rng, 0.4, 1.6) * 500 * math.Pow(o.ContentsKg, 2.0/3)
	o.GlassLossWK = spread(rng, 0.7, 1.5) * 0.5 * math.Pow(o.ContentsKg, 2.0/3)
	o.InnerWK = spread(rng, 0.6, 2) * 4 * math.Pow(o.ContentsKg, 2.0/3)
	o.CoreWK = spread(rng, 0.7, 3) * 0.7 * math.Cbrt(o.ContentsKg)
	return sim.NewPlant(withDeadTime(o, time.Duration(between(rng, 60, 25*60))*time.Second))
}

// withDeadTime chooses what lies between mat and glass (a cloth, a board, a
// slab of stone) so that the contents answer the mat with the given dead time,
// or as near as a slab between nothing and stone can bring it.
func withDeadTime(o sim.PlantOpts, want time.Duration) sim.PlantOpts {
	lo, hi := 5.0, 12000.0
	for range 12 {
		o.SlabJK = math.Sqrt(lo * hi)
		if dead, _, ok := sim.NewPlant(o).DeadTime(); ok && dead < want {
			lo = o.SlabJK
		} else {
			hi = o.SlabJK
		}
	}
	return o
}

// RandomRoom draws a room whose air stays between 12 and 28 °C but for an
// open door.
func RandomRoom(rng *rand.Rand) sim.RoomOpts {
	o := sim.RoomOpts{StartHour: between(rng, 0, 24), SwingC: between(rng, 0, 2), WanderC: between(rng, 0, 0.3)}
	if chance(rng, 0.6) {
		o.NightC = between(rng, 0.5, 4)
	}
	if chance(rng, 0.7) {
		o.DoorC, o.DoorsADay = between(rng, 1, 6), between(rng, 1, 10)
	}
	o.MeanC = between(rng, 12+o.SwingC+o.NightC+2*o.WanderC, 28-o.SwingC-2*o.WanderC)
	return o
}
