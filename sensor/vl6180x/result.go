package vl6180x

import (
	"leavend/sensor"
	"leavend/sensor/laser"
)

// statuses explains bits 4 to 7 of the status register (data sheet, table
// "Range error codes").
var statuses = []laser.Status{
	0:  laser.Valid("0 valid"),
	1:  laser.Invalid("1 system", "the laser failed its continuity test"),
	2:  laser.Invalid("2 system", "the laser failed its watchdog test"),
	3:  laser.Invalid("3 system", "the laser failed its watchdog"),
	4:  laser.Invalid("4 system", "the first clock did not lock"),
	5:  laser.Invalid("5 system", "the second clock did not lock"),
	6:  laser.Invalid("6 early", "too little light comes back to go on measuring"),
	7:  laser.Invalid("7 converge", "the measurement did not converge: nothing within reach"),
	8:  laser.Invalid("8 ignored", "the target is below the signal set to be ignored"),
	11: laser.Invalid("11 noise", "there is too much ambient light"),
	12: laser.Invalid("12 underflow", "the raw range is below zero: the cover glass, or something on it"),
	13: laser.Invalid("13 overflow", "the raw range is beyond the scale"),
	14: laser.Invalid("14 underflow", "the range is below zero: the cover glass, or something on it"),
	15: laser.Invalid("15 overflow", "the range is beyond the scale"),
}

// decode makes a reading of the result registers, or says why not. Bit 0 of
// the status is 1 while the chip is ready, as it is behind a measurement.
func decode(b []byte) (r sensor.Reading, reason string) {
	s := laser.Find(statuses, b[0]>>4)
	if b[0]&1 == 0 {
		s = laser.None
	}
	r = sensor.Reading{Value: float64(b[valueAt]), Signal: laser.Count(b[rateAt:], 128), Status: s.Word}
	switch {
	case [4]byte(b[len(b)-4:]) == [4]byte{0xFF, 0xFF, 0xFF, 0xFF}: // RESULT__RANGE_RETURN_CONV_TIME
		return r, "the transfer broke off: its end reads as ones"
	case s.Reason == "" && b[valueAt] == 255:
		return r, "no target is seen"
	}
	return r, s.Reason
}
