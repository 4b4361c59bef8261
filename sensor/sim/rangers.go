package sim

import "time"

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
