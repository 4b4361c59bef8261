package vl6180x

import "leavend/sensor"

// status is what the chip says of a measurement.
type status struct {
	word   string // the chip's code and a word, for recordings
	reason string // why the measurement is refused; empty when it is valid
}

// statuses explains bits 4 to 7 of the status register.
var statuses = [16]status{
	0:  {"0 valid", ""},
	1:  {"1 system", "the laser failed its continuity test"},
	2:  {"2 system", "the laser failed its watchdog test"},
	3:  {"3 system", "the laser failed its watchdog"},
	4:  {"4 system", "the first clock did not lock"},
	5:  {"5 system", "the second clock did not lock"},
	6:  {"6 early", "too little light comes back to go on measuring"},
	7:  {"7 converge", "the measurement did not converge: nothing within reach"},
	8:  {"8 ignored", "the target is below the signal set to be ignored"},
	11: {"11 noise", "there is too much ambient light"},
	12: {"12 underflow", "the raw range is below zero: the cover glass, or something on it"},
	13: {"13 overflow", "the raw range is beyond the scale"},
	14: {"14 underflow", "the range is below zero: the cover glass, or something on it"},
	15: {"15 overflow", "the range is beyond the scale"},
}

// none stands for the codes that the data sheet does not explain.
var none = status{"reserved", "the chip gives a status it should not"}

// maxSignal is more light, in million counts per second, than comes back from
// any target (a guess); it betrays a transfer that broke off.
const maxSignal = 256

// judge decodes the result registers and says why the measurement should not
// be believed, or nothing. Bit 0 of the status is 1 while the chip is ready,
// as it is behind a measurement.
func (d *Dev) judge(b []byte) (r sensor.Reading, reason string) {
	s := statuses[b[0]>>4]
	if s.word == "" || b[0]&1 == 0 {
		s = none
	}
	r = sensor.Reading{
		Quantity: sensor.Distance,
		Value:    float64(b[valueAt]) + d.opts.OffsetMM,
		Signal:   float64(uint16(b[rateAt])<<8|uint16(b[rateAt+1])) / 128,
		Status:   s.word,
	}
	switch {
	case [4]byte(b[len(b)-4:]) == [4]byte{0xFF, 0xFF, 0xFF, 0xFF}: // RESULT__RANGE_RETURN_CONV_TIME
		return r, "the transfer broke off: its end reads as ones"
	case s.reason != "":
		return r, s.reason
	case b[valueAt] == 255:
		return r, "no target is seen"
	case r.Value < d.opts.MinMM:
		return r, "nearer than makes sense: glare from a wet surface, or the cover glass"
	case r.Value > d.opts.MaxMM:
		return r, "farther than the chip reaches"
	case r.Signal == 0 || r.Signal > maxSignal:
		return r, "valid with an impossible amount of light"
	}
	return r, ""
}
