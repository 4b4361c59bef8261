package vl53l1x

import "errors"

// Registers of the VL53L4CD beyond those of the other chip, by the names of
// VL53L4CD_api.h 1.0.0. Two have none.
const (
	regOscillator = 0x0006
	regUnnamed24  = 0x0024
	regSigmaLimit = 0x0064 // RANGE_CONFIG__SIGMA_THRESH, 14.2 fixed point
	regPeriod     = 0x006C // INTERMEASUREMENT_MS, in periods of the slow clock
	regClock      = 0x00DE // RESULT__OSC_CALIBRATE_VAL
)

// configureL4CD writes what ST's driver sets otherwise than for the VL53L1X
// (VL53L4CD_SensorInit, VL53L4CD_SetRangeTiming): a sigma limit of 40 mm, and
// timeouts from the chip's own clock. The measurements in a row lie a second
// apart, so that a second one does not begin before the first is read.
func (d *Dev) configureL4CD() {
	d.reg.Put16(regSigmaLimit, 40<<2)
	d.reg.Put16(regUnnamed24, 0x0500)
	clock, slow := d.reg.Sure16(regOscillator), d.reg.Sure16(regClock)&0x3FF
	if clock == 0 {
		d.reg.Refuse(errNoClock)
		return
	}
	a, b := timeoutsL4CD(clock, d.opts.BudgetMS)
	d.reg.Put32(regPeriod, uint32(1.055*1000*float64(slow)))
	d.reg.Put16(regTimeoutA, a)
	d.reg.Put16(regTimeoutB, b)
}

var errNoClock = errors.New("the chip says that its clock stands still")

// timeoutsL4CD returns the two timeout registers for a light time, from the
// chip's clock in 4.12 fixed point, MHz (VL53L4CD_SetRangeTiming, in its mode
// of low power: each of the two ranges gets half of what 4.3 ms leave).
func timeoutsL4CD(clock uint16, budgetMS int) (a, b uint16) {
	macro := 2304 * (0x4000_0000 / uint32(clock)) >> 6
	us := (uint32(budgetMS)*1000 - 4300) / 2
	pack := func(periods uint32) uint16 {
		unit := macro * periods >> 6
		n, shift := (us<<12+unit/2)/unit-1, uint16(0)
		for ; n > 0xFF; n >>= 1 {
			shift++
		}
		return shift<<8 | uint16(n)
	}
	return pack(16), pack(12)
}
