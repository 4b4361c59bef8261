package bme280

import "leavend/sensor/bus"

// trim is what the factory measured on this very chip (data sheet, table 16),
// by its names dig_T1 to dig_H6.
type trim struct {
	t1, t2, t3             float64
	h1, h2, h3, h4, h5, h6 float64
}

// readTrim reads the factory's numbers. They are read in one block up to config,
// so that known registers lie in it and behind it, and twice; and its first two
// bytes once more alone, for a block may be made of two that came before.
func (d *Dev) readTrim() {
	b := d.reg.Sure(regTrim, regConfig-regTrim+1)
	d.trim = trimOf(b)
	head := [2]byte(b)
	ok := b[regID-regTrim] == d.id() && b[regControl-regTrim] == keepT && b[regConfig-regTrim] == d.mark &&
		(d.kind == BMP280 || b[regCtrlHum-regTrim] == twice)
	if second := d.reg.U8(regTrim + 1); !ok || second != head[1] || d.reg.U8(regTrim) != head[0] {
		d.reg.Refuse(bus.ErrNoise)
	}
}

// trimOf decodes the block from calib00 on. Words have the low byte first, but
// H4 and H5 are of 12 bits and share a byte.
func trimOf(b []byte) trim {
	word := func(i int) uint16 { return uint16(b[i+1])<<8 | uint16(b[i]) }
	signed := func(i int) float64 { return float64(int16(word(i))) }
	e1 := regTrimE1 - regTrim
	return trim{
		t1: float64(word(0)), t2: signed(2), t3: signed(4),
		h1: float64(b[0xA1-regTrim]), h2: signed(e1), h3: float64(b[e1+2]),
		h4: float64(int16(int8(b[e1+3]))<<4 | int16(b[e1+4]&0x0F)),
		h5: float64(int16(int8(b[e1+5]))<<4 | int16(b[e1+4]>>4)),
		h6: float64(int8(b[e1+6])),
	}
}

// temperature turns a raw number into °C, and into the finer number by which
// the humidity is corrected (appendix 8.1).
func (c *trim) temperature(raw int) (tempC, fine float64) {
	first := (float64(raw)/16384 - c.t1/1024) * c.t2
	off := float64(raw)/131072 - c.t1/8192
	fine = first + off*off*c.t3
	return fine / 5120, fine
}

// humidity turns a raw number into percent (appendix 8.1). Beyond the scale it
// is cut, as the data sheet says.
func (c *trim) humidity(raw int, fine float64) float64 {
	warm := fine - 76800
	h := float64(raw) - (c.h4*64 + c.h5/16384*warm)
	h *= c.h2 / 65536 * (1 + c.h6/67108864*warm*(1+c.h3/67108864*warm))
	h *= 1 - c.h1*h/524288
	return min(100, max(0, h))
}
