// Package vl53l0x drives ST's VL53L0X, a laser ranger for 50 mm to 1.2 m.
//
// Each Read starts one measurement and waits for it. The chip looks down a
// cone of 25°, which meets the wall of an 80 mm bore at 180 mm; the cone
// cannot be narrowed. It has no register for the uncertainty of a reading, so
// Reading.Sigma is 0; averaging by measured noise (package noise) stands in
// for it. Users report, over calm water in the dark, a spread of 6.8 mm from
// reading to reading: expect to average.
//
// ST documents the chip only through its driver. Register names, start values
// and the meaning of the status come from that driver's published source
// (STSW-IMG005, vl53l0x_device.h, vl53l0x_tuning.h, vl53l0x_api_core.c), in
// part as public drivers repeat it, in part from memory. Nothing here was run
// on hardware.
package vl53l0x

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/laser"
)

// Addr is the address after power-on.
const Addr = laser.Addr

// Opts is how the chip is used. The zero value suits a jar.
type Opts struct {
	BudgetMS  int         // time of one measurement, 20 to 1000; 0 means 200, the most exact of ST's profiles
	MinMM     float64     // nearer than this is glare; 0 means 50
	MaxMM     float64     // farther than this is no jar; 0 means 1200
	MinSignal float64     // least light, million counts per second, which the chip checks; 0 means 0.25
	OffsetMM  float64     // added to each reading, from calibration, before MinMM and MaxMM
	XtalkKcps float64     // light of the cover glass, thousand counts per second and cell, for the chip to take off
	LowIO     bool        // the bus is pulled up to 1.8 V instead of 2.8 V
	Wake      laser.Waker // see package xshut
}

// Dev is one chip.
type Dev struct {
	laser.Ranger
	reg  *bus.Regs
	opts Opts
	stop byte // a value of the factory that every start needs
}

// New returns the chip at addr. It checks the options and does not touch the
// bus: a chip that is absent now may be plugged in later.
func New(b i2c.Bus, addr uint16, opts Opts) (*Dev, error) {
	d := &Dev{reg: bus.New(b, addr, "vl53l0x", bus.Index8), opts: opts}
	o := &d.opts
	o.BudgetMS = cmp.Or(o.BudgetMS, 200)
	o.MinSignal = cmp.Or(o.MinSignal, 0.25)
	limits := laser.Limits{MinMM: cmp.Or(o.MinMM, 50), MaxMM: cmp.Or(o.MaxMM, 1200), MinMcps: o.MinSignal}
	if err := errors.Join(o.check(), limits.Check(noTarget-1)); err != nil {
		return nil, d.reg.Fail("options", err)
	}
	budget := time.Duration(o.BudgetMS) * time.Millisecond
	d.Ranger = laser.New(d.reg, opts.Wake, laser.Steps{
		SetUp: d.setUp, Remembers: d.remembers, Clear: d.clear, Start: d.start,
		Ready:  laser.Ready{Register: regIntStatus, Mask: intAny, Want: intNewSample},
		Result: laser.Result{Register: regResult, Len: resultLen},
		Takes:  budget, Within: 2*budget + 100*time.Millisecond,
		Decode: d.decode, Limits: limits,
		Cells: cells, TakenKcps: &o.XtalkKcps, OffsetMM: o.OffsetMM,
	})
	return d, nil
}

// check refuses what the chip cannot do.
func (o *Opts) check() error {
	switch {
	case o.BudgetMS < 20 || o.BudgetMS > 1000:
		return fmt.Errorf("budget %d ms is not within 20 to 1000", o.BudgetMS)
	case !(o.MinSignal > 0 && o.MinSignal < 512):
		return fmt.Errorf("least signal %v Mcps is not within 0 to 512", o.MinSignal)
	case !(o.XtalkKcps >= 0 && o.XtalkKcps < 8000):
		return fmt.Errorf("crosstalk %v kcps is not within 0 to 8000", o.XtalkKcps)
	case !(o.OffsetMM > -512 && o.OffsetMM < 512):
		return fmt.Errorf("offset %v mm is not within ±512", o.OffsetMM)
	}
	return nil
}

// remembers reports whether the chip still has our settings, by a mark that a
// reset wipes out.
func (d *Dev) remembers() bool { return d.reg.U16(regMark) == mark }

// clear takes the interrupt back as ST's driver does (VL53L0X_ClearInterruptMask):
// bit 0 is set and released, and up to three times until the status is clear.
func (d *Dev) clear() {
	for range 3 {
		d.reg.Put8(regIntClear, 0x01)
		d.reg.Put8(regIntClear, 0x00)
		if d.reg.U8(regIntStatus)&intAny == 0 {
			return
		}
	}
	d.reg.Refuse(errStuckInt)
}

// errStuckInt says that the interrupt does not go away.
var errStuckInt = errors.New("its interrupt cannot be cleared: noise, or the chip hangs; switch it off and on")

// start starts one measurement, with the factory's stop value in its place.
func (d *Dev) start() {
	d.reg.Put8(0x80, 0x01)
	d.reg.Put8(regPage, 0x01)
	d.reg.Put8(0x00, 0x00)
	d.reg.Put8(0x91, d.stop)
	d.reg.Put8(0x00, 0x01)
	d.reg.Put8(regPage, 0x00)
	d.reg.Put8(0x80, 0x00)
	d.reg.Put8(regStart, startOnce)
}
