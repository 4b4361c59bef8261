package sim

import (
	"math/rand/v2"
	"time"
)

// The rangers below are as their makers and the one long public recording
// describe them; what is not published is a guess and says so. White noise
// is that of one reading as it is stored: the daemon averages what fits into a
// second, so the lower ends are usual.

// VL53L0X is the chip that was recorded for four hours (MeasuredWander): 2.1 mm
// of white noise in one ranging at a budget of 20 ms, no reading far off in
// 798,000, whole millimetres (data sheet). Its shift with temperature is a
// guess.
func VL53L0X() RangerOpts {
	return RangerOpts{WhiteMM: 2.1, Wander: MeasuredWander(), TempMMPerC: 0.05, SpikeShare: -1, MissShare: 0.001}
}

// VL53L1X has no recording longer than two minutes, in which it did not
// wander: that it does so by half of what the VL53L0X does is a guess, as is
// its shift with temperature. It measures from 40 mm on (user manual).
func VL53L1X() RangerOpts {
	return RangerOpts{WhiteMM: 1.2, Wander: scaled(MeasuredWander(), 0.5, 1), TempMMPerC: 0.05, SpikeShare: -1, MissShare: 0.001}
}

// VL6180X measures up to 100, at best 200 mm (data sheet); its noise at that
// distance and its wander are guesses.
func VL6180X() RangerOpts {
	return RangerOpts{WhiteMM: 1.5, Wander: scaled(MeasuredWander(), 0.3, 1), TempMMPerC: 0.05, SpikeShare: -1, MissShare: 0.01, NearMM: 5, FarMM: 200}
}

// Echo is an ultrasonic ranger whose resolution is "up to 3 mm" (maker's
// sheet of the HC-SR04). The speed of sound gains 0.17 % a degree (Cramer
// 1993), a quarter of a millimetre at 150 mm where no thermometer corrects it.
// Its white noise, wander and spikes are guesses.
func Echo() RangerOpts {
	return RangerOpts{
		WhiteMM: 1, StepMM: 3, Wander: []Wander{{MM: 0.5, For: 5 * time.Minute}}, TempMMPerC: -0.25,
		SpikeShare: 0.004, GlintShare: -1, MissShare: 0.01, NearMM: 20, FarMM: 4000,
	}
}

// randomRanger draws a chip, how much of its readings is averaged, and how
// much it wanders: from not at all to twice as much as was recorded.
func randomRanger(rng *rand.Rand) RangerOpts {
	o := VL53L0X()
	switch p := rng.Float64(); {
	case p < 0.35:
		o = VL53L1X()
	case p < 0.45:
		o = VL6180X()
		o.NearMM, o.FarMM = 40, 1300 // over the jars of this package it would see nothing
	case p < 0.55:
		o = Echo()
		o.StepMM = between(rng, 1, 3)
	}
	o.WhiteMM *= spread(rng, 0.15, 1)
	u := rng.Float64()
	o.Wander = scaled(MeasuredWander(), 2*u*u, spread(rng, 0.5, 2))
	if chance(rng, 0.2) {
		o.Wander = []Wander{}
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
