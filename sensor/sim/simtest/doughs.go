package simtest

import (
	"fmt"

	"leavend/sensor/sim"
)

// Doughs records one baker's bread doughs, one recording each: the baker's way,
// the bowl and the kitchen stay, while each dough differs a little in pace (5 %
// one standard deviation, for a starter is not always as lively), hold, amount
// and warmth, and the room goes with the weather. Every third baker has the bowl
// on a mat. The same seed gives the same doughs.
func Doughs(seed uint64, doughs int) []*sim.Recording {
	rng := sim.NewRand(seed, "doughs")
	d := sim.Dough()
	d.Pace *= between(rng, 0.75, 1.25)
	d.Hold *= between(rng, 0.9, 1.2)
	ratio := sim.BreadDough()
	ratio.Starter = []float64{10, 15, 20, 20, 25}[rng.IntN(5)]
	bowl := sim.Vessel{BottomMM: between(rng, 160, 200), TopMM: between(rng, 220, 260), RimMM: 190, SensorMM: 260}
	roomC, fill, setC := between(rng, 19, 24), between(rng, 1100, 1600), 0.0
	if chance(rng, 0.33) {
		setC = between(rng, 24, 27)
	}
	out := make([]*sim.Recording, 0, doughs)
	for i := range doughs {
		out = append(out, sim.Record(sim.RecordOpts{
			Name: fmt.Sprintf("doughs-%d-%d", seed, i), Family: "dough", Case: "history", Seed: seed + uint64(i)<<48, Every: 60e9, Length: hours(26),
			Vessel: bowl, Starter: d, SetpointC: setC,
			Feeds: []sim.Feed{{Ratio: ratio, FillML: fill * between(rng, 0.94, 1.06), WaterC: between(rng, 22, 27),
				PaceBy: 1 + 0.05*rng.NormFloat64(), HoldBy: 1 + 0.03*rng.NormFloat64()}},
			Plant: sim.PlantOpts{Room: sim.RoomOpts{MeanC: roomC + rng.NormFloat64(), SwingC: between(rng, 0, 1)}},
		}))
	}
	return out
}
