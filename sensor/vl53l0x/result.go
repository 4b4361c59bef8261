package vl53l0x

import (
	"leavend/sensor"
	"leavend/sensor/laser"
)

// statuses explains bits 3 to 6 of the first result byte
// (VL53L0X_get_pal_range_status; the numbers in front of the words are the
// driver's own).
var statuses = []laser.Status{
	1:  laser.Invalid("5 laser", "the laser failed its continuity test"),
	2:  laser.Invalid("5 laser", "the laser failed its watchdog"),
	3:  laser.Invalid("5 hardware", "the chip has no supply for its cells"),
	4:  laser.Invalid("2 signal", "too little light comes back"),
	6:  laser.Invalid("4 phase", "the phase is out of bounds: nothing within reach"),
	8:  laser.Invalid("3 minimum", "the target is below the chip's minimum"),
	9:  laser.Invalid("4 wrap", "the phases disagree: the target is so far that they wrap around"),
	10: laser.Invalid("3 minimum", "the target is below the chip's minimum"),
	11: laser.Valid("0 valid"),
}

// decode makes a reading of the result registers, or says why not.
func (d *Dev) decode(b []byte) (r sensor.Reading, reason string) {
	s := laser.Find(statuses, b[0]>>3&0x0F)
	r = sensor.Reading{Value: laser.Count(b[10:], 1), Signal: laser.Count(b[6:], 128), Status: s.Word}
	switch {
	case uint16(b[12])<<8|uint16(b[13]) != d.opts.xtalk():
		return r, "the register behind it does not hold what was written: the transfer broke off, or the settings are lost"
	case s.Reason == "" && r.Value >= noTarget:
		return r, "no target is seen"
	}
	return r, s.Reason
}

// cells returns how many receivers share the light, 8.8 fixed point.
func cells(b []byte) float64 { return laser.Count(b[2:], 256) }
