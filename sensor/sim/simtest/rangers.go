package simtest

import (
	"math/rand/v2"
	"time"

	"leavend/sensor/sim"
)

// VL53L1X has no recording longer than two minutes, in which it did not
// wander: that it does so by half of what the VL53L0X does is a guess, as is
// its shift with temperature. It measures from 40 mm on (user manual).
func VL53L1X() sim.RangerOpts {
	return sim.RangerOpts{WhiteMM: 1.2, Wander: scaled(sim.MeasuredWander(), 0.5, 1), TempMMPerC: 0.05, SpikeShare: -1, MissShare: 0.001}
}

// VL6180X measures up to 100, at best 200 mm (data sheet); its noise at that
// distance and its wander are guesses.
func VL6180X() sim.RangerOpts {
	return sim.RangerOpts{WhiteMM: 1.5, Wander: scaled(sim.MeasuredWander(), 0.3, 1), TempMMPerC: 0.05, SpikeShare: -1, MissShare: 0.01, NearMM: 5, FarMM: 200}
}

// randomRanger draws a chip, how much of its readings is averaged, and how
// much it wanders: from not at all to twice as much as was recorded.
func randomRanger(rng *rand.Rand) sim.RangerOpts {
	o := sim.VL53L0X()
	switch p := rng.Float64(); {
	case p < 0.35:
		o = VL53L1X()
	case p < 0.45:
		o = VL6180X()
		o.NearMM, o.FarMM = 40, 1300 // over the jars of this package it would see nothing
	case p < 0.55:
		o = sim.Echo()
		o.StepMM = between(rng, 1, 3)
	}
	o.WhiteMM *= spread(rng, 0.15, 1)
	u := rng.Float64()
	o.Wander = scaled(sim.MeasuredWander(), 2*u*u, spread(rng, 0.5, 2))
	if chance(rng, 0.2) {
		o.Wander = []sim.Wander{}
	}
	if chance(rng, 0.2) {
		o.SpikeShare = spread(rng, 0.0002, 0.01)
	}
	if chance(rng, 0.3) {
		o.GlintShare = spread(rng, 0.0003, 0.003)
	}
	o.MissShare = spread(rng, 0.0005, 0.02)
	if chance(rng, 0.2) {
		o.OutageEvery, o.OutageFor = hours(spread(rng, 2, 10)), time.Duration(spread(rng, 30, 600)*float64(time.Second))
	}
	return o
}

// scaled returns the terms with all deviations times by, and all times times slow.
func scaled(terms []sim.Wander, by, slow float64) []sim.Wander {
	out := make([]sim.Wander, len(terms))
	for i, t := range terms {
		out[i] = sim.Wander{MM: t.MM * by, For: time.Duration(float64(t.For) * slow)}
	}
	return out
}
