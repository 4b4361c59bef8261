package vl53l1x

import (
	"leavend/sensor"
)

// status is what the chip says of a measurement.
type status struct {
	word   string // ST's number and a word, for recordings
	reason string // why the measurement is refused; empty when it is valid
}

// statuses explains the low five bits of the first result byte. The numbers in
// front of the words are those of ST's driver (VL53L1X_GetRangeStatus and
// UM2510, "Range status"); note that 1 is sigma and 2 is signal.
var statuses = [24]status{
	3:  {"5 hardware", "the chip reports a hardware fault"},
	4:  {"2 signal", "too little light comes back"},
	5:  {"4 bounds", "the phase is out of bounds: nothing within reach"},
	6:  {"1 sigma", "the chip finds its own reading too uncertain"},
	7:  {"7 wrap", "the target is so far that the phase wraps around"},
	8:  {"3 clipped", "the target is below the chip's minimum"},
	9:  {"0 valid", ""},
	12: {"9 crosstalk", "the cover glass outshines the target"},
	13: {"13 minimum", "the minimum range check failed"},
	18: {"10 sync", "the two parts of the measurement disagree"},
	19: {"6 unchecked", "the wrap-around check did not run"},
	22: {"11 merged", "two targets are seen as one"},
	23: {"12 far", "signal and distance do not fit together"},
}

// word returns the chip's word on raw status n.
func word(n uint8) status {
	if n &= 0x1F; n < uint8(len(statuses)) && statuses[n].word != "" {
		return statuses[n]
	}
	return status{"255 none", "the chip gives no result"}
}

// maxSignal is more light, in million counts per second, than comes back from
// any target (a guess, far above what users report); it betrays a transfer
// that broke off, whose rest reads as ones.
const maxSignal = 256

// judge decodes the result registers and says why the measurement should not
// be believed, or nothing.
func (d *Dev) judge(b []byte) (r sensor.Reading, reason string) {
	s := word(b[0])
	r = sensor.Reading{
		Quantity: sensor.Distance,
		Value:    float64(uint16(b[13])<<8 | uint16(b[14])),     // final range, mm
		Sigma:    float64(uint16(b[9])<<8|uint16(b[10])) / 4,    // 14.2 fixed point, mm
		Signal:   float64(uint16(b[15])<<8|uint16(b[16])) / 128, // 9.7 fixed point, million counts per second
		Status:   s.word,
	}
	switch {
	case s.reason != "":
		return r, s.reason
	case r.Value < d.opts.MinMM:
		return r, "nearer than the chip can measure: glare from a wet surface, or the cover glass"
	case r.Value > d.opts.MaxMM:
		return r, "farther than the mode reaches"
	case r.Sigma > d.opts.MaxSigmaMM:
		return r, "sigma is above the limit"
	case r.Signal == 0 || r.Signal > maxSignal:
		return r, "valid with an impossible amount of light"
	}
	return r, ""
}

// cells returns how many receivers share the light, 8.8 fixed point.
func cells(b []byte) float64 { return float64(uint16(b[3])<<8|uint16(b[4])) / 256 }
