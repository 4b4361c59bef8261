package vl53l1x

import (
	"leavend/sensor"
	"leavend/sensor/laser"
)

// statuses explains the low five bits of the first result byte. The numbers in
// front of the words are those of ST's driver (VL53L1X_GetRangeStatus, the same
// for the VL53L4CD, and UM2510, "Range status"); note that 1 is sigma and 2 is
// signal.
var statuses = []laser.Status{
	3:  laser.Invalid("5 hardware", "the chip reports a hardware fault"),
	4:  laser.Invalid("2 signal", "too little light comes back"),
	5:  laser.Invalid("4 bounds", "the phase is out of bounds: nothing within reach"),
	6:  laser.Invalid("1 sigma", "the chip finds its own reading too uncertain"),
	7:  laser.Invalid("7 wrap", "the target is so far that the phase wraps around"),
	8:  laser.Invalid("3 clipped", "the target is below the chip's minimum"),
	9:  laser.Valid("0 valid"),
	12: laser.Invalid("9 crosstalk", "the cover glass outshines the target"),
	13: laser.Invalid("13 minimum", "the minimum range check failed"),
	18: laser.Invalid("10 sync", "the two parts of the measurement disagree"),
	19: unchecked,
	22: laser.Invalid("11 merged", "two targets are seen as one"),
	23: laser.Invalid("12 far", "signal and distance do not fit together"),
}

// unchecked is a valid range whose wrap-around was not checked. The check
// compares a measurement with the one before, and a single one has none: so
// ST's full driver takes status 9 for 19 where the stream count is 0
// (VL53L1_copy_sys_and_core_results_to_range_results).
var unchecked = laser.Valid("6 unchecked")

// uncheckedKcps is the least light, in thousand counts per second and receiver,
// for which an unchecked range is believed. What wraps around in short mode is
// 2.4 m away at least (12 periods of the fast clock of 755 MHz). White at 3.6 m
// just gives the 1 million counts that the settings ask for (data sheet, table
// of ranges), or 5 thousand for each of some 200 receivers: so 11 thousand at
// 2.4 m, where dough in a jar gives hundreds.
const uncheckedKcps = 20

// decode makes a reading of the result registers, or says why not.
func (d *Dev) decode(b []byte) (r sensor.Reading, reason string) {
	s := laser.Find(statuses, b[0]&0x1F)
	if s.Word == "0 valid" && b[2] == 0 { // RESULT__STREAM_COUNT
		s = unchecked
	}
	corrected := laser.Count(b[15:], 128) // 9.7 fixed point, million counts per second, without the glass's
	r = sensor.Reading{
		Value:  laser.Count(b[13:], 1), // final range, mm
		Sigma:  laser.Count(b[9:], 4),  // 14.2 fixed point, mm
		Signal: corrected,
		Status: s.Word,
	}
	if d.opts.Chip == VL53L4CD {
		r.Signal = laser.Count(b[5:], 128) // ST's driver knows no other
	}
	switch {
	case corrected > laser.MaxMcps:
		return r, "the transfer broke off: its end reads as ones"
	case s.Reason != "":
		return r, s.Reason
	case cells(b) == 0:
		return r, laser.None.Reason
	case r.Sigma > d.opts.MaxSigmaMM:
		return r, "sigma is above the limit"
	case s == unchecked && r.Signal > 0 && r.Signal*1000 < uncheckedKcps*cells(b):
		return r, "whether the phase wraps around was not checked, and little light comes back: it may be far away"
	}
	return r, ""
}

// cells returns how many receivers share the light, 8.8 fixed point.
func cells(b []byte) float64 { return laser.Count(b[3:], 256) }
