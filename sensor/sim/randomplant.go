package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// RandomPlant draws a plant over the whole range that a thermostat has to
// cope with: 0.2 to 3 kg of contents, mats of 8 to 40 W, dead times of 1 to
// 25 minutes from mat to contents, a probe's lag of 10 s to 3 min, and a room
// between 12 and 28 °C with its course over the day, its heating off at night
// and its door opened. The plant starts at the temperature of its room.
func RandomPlant(rng *rand.Rand) *Plant {
	o := PlantOpts{
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
	return NewPlant(withDeadTime(o, time.Duration(between(rng, 60, 25*60))*time.Second))
}

// withDeadTime chooses what lies between mat and glass (a cloth, a board, a
// slab of stone) so that the contents answer the mat with the given dead time,
// or as near as a slab between nothing and stone can bring it.
func withDeadTime(o PlantOpts, want time.Duration) PlantOpts {
	lo, hi := 5.0, 12000.0
	for range 12 {
		o.SlabJK = math.Sqrt(lo * hi)
		if dead, _, ok := NewPlant(o).DeadTime(); ok && dead < want {
			lo = o.SlabJK
		} else {
			hi = o.SlabJK
		}
	}
	return o
}

// RandomRoom draws a room whose air stays between 12 and 28 °C but for an
// open door.
func RandomRoom(rng *rand.Rand) RoomOpts {
	o := RoomOpts{StartHour: between(rng, 0, 24), SwingC: between(rng, 0, 2), WanderC: between(rng, 0, 0.3)}
	if chance(rng, 0.6) {
		o.NightC = between(rng, 0.5, 4)
	}
	if chance(rng, 0.7) {
		o.DoorC, o.DoorsADay = between(rng, 1, 6), between(rng, 1, 10)
	}
	o.MeanC = between(rng, 12+o.SwingC+o.NightC+2*o.WanderC, 28-o.SwingC-2*o.WanderC)
	return o
}

// Range is the coldest and the warmest that the room gets, but for open doors.
func (o RoomOpts) Range() (lowC, highC float64) {
	return o.MeanC - o.SwingC - o.NightC - 2*o.WanderC - 2*o.WeatherC, o.MeanC + o.SwingC + 2*o.WanderC + 2*o.WeatherC
}

// Reach is the range of setpoints that the plant can hold at any hour of its
// room: warm enough that the mat is needed in the warmest hour, and not so
// warm that full power falls short in the coldest. When lowC is above highC
// there is none, and the mat is too weak for the room's swing.
func (p *Plant) Reach() (lowC, highC float64) {
	cold, warm := p.room.o.Range()
	return p.SteadyC(warm, 0), p.SteadyC(cold, 1)
}
