package vl53l0x

import "leavend/sensor"

// status is what the chip says of a measurement.
type status struct {
	word   string // the number of ST's driver and a word, for recordings
	reason string // why the measurement is refused; empty when it is valid
}

// statuses explains bits 3 to 6 of the first result byte
// (VL53L0X_get_pal_range_status; from memory, but for the driver's own numbers
// in front of the words).
var statuses = [16]status{
	1:  {"5 laser", "the laser failed its continuity test"},
	2:  {"5 laser", "the laser failed its watchdog"},
	3:  {"5 hardware", "the chip has no supply for its cells"},
	4:  {"2 signal", "too little light comes back"},
	6:  {"4 phase", "the phase is out of bounds: nothing within reach"},
	8:  {"3 minimum", "the target is below the chip's minimum"},
	9:  {"4 wrap", "the phases disagree: the target is so far that they wrap around"},
	10: {"3 minimum", "the target is below the chip's minimum"},
	11: {"0 valid", ""},
}

// none stands for the words on which ST's driver gives no status at all.
var none = status{"255 none", "the chip gives no result"}

// judge decodes the result registers and says why the measurement should not
// be believed, or nothing.
func (d *Dev) judge(b []byte) (r sensor.Reading, reason string) {
	s := statuses[b[0]>>3&0x0F]
	if s.word == "" {
		s = none
	}
	raw := float64(uint16(b[10])<<8 | uint16(b[11]))
	r = sensor.Reading{
		Quantity: sensor.Distance,
		Value:    raw + d.opts.OffsetMM,
		Signal:   float64(uint16(b[6])<<8|uint16(b[7])) / 128, // 9.7 fixed point, million counts per second
		Status:   s.word,
	}
	switch {
	case uint16(b[12])<<8|uint16(b[13]) != d.opts.xtalk():
		return r, "the register behind it does not hold what was written: the transfer broke off, or the settings are lost"
	case s.reason != "":
		return r, s.reason
	case raw >= noTarget:
		return r, "no target is seen"
	case r.Value < d.opts.MinMM:
		return r, "nearer than the chip can measure: glare from a wet surface, or the cover glass"
	case r.Value > d.opts.MaxMM:
		return r, "farther than the chip reaches"
	case r.Signal < d.opts.MinSignal || r.Signal > maxSignal:
		return r, "valid with an impossible amount of light"
	}
	return r, ""
}

// maxSignal is more light, in million counts per second, than comes back from
// any target (a guess); it betrays a transfer that broke off.
const maxSignal = 256

// cells returns how many receivers share the light, 8.8 fixed point.
func cells(b []byte) float64 { return float64(uint16(b[2])<<8|uint16(b[3])) / 256 }
