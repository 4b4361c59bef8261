// Package vl53l1x drives ST's VL53L1X, a laser ranger that sees from 40 mm to
// 1.3 m (short mode) or 4 m (long mode).
//
// Each Read starts one measurement and waits for it, so the laser is off in
// between and no reading is older than it says. A measurement is believed when
// the chip calls it valid, its sigma is small, and it lies in the range where
// the chip can measure. The lower bound matters over wet dough: a glossy,
// tilted surface gives 20 to 30 mm with a clean status.
//
// The chip looks down a cone of 27° with all of its 16 by 16 cells, about 20°
// with 8 by 8 and 15° with 4 by 4. Where the cone meets the wall of the jar,
// the reading is a mix of wall and dough. The cone of 27° meets an 80 mm bore
// at 167 mm below the chip, that of 15° at 304 mm: see Opts.Cells, and
// jar.ReachMM for other jars.
//
// A chip that lost its supply, or its settings, is found out before the next
// measurement and set up again.
//
// Sources: ST data sheet DocID031281, ST user manual UM2510 of the ultra lite
// driver (register names and start values as in its published source, version
// 3.5.0); cone angles from memory of the user manual. Nothing here was run on
// hardware.
package vl53l1x

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/internal/laser"
)

// Addr is the address after power-on.
const Addr = laser.Addr

// Mode is how far the chip looks.
type Mode uint8

// Short resists ambient light best and is right for jars and bowls.
const (
	Short Mode = iota
	Long
)

// Opts is how the chip is used. The zero value suits a jar.
type Opts struct {
	Mode       Mode
	BudgetMS   int         // light time of one measurement, from 20; rounded down to 20, 33, 50, 100, 200 or 500; 0 means 100
	Cells      int         // side of the square of cells that look, 4 to 16; 0 means 16
	Centre     uint8       // cell in the middle of that square; 0 means 199, the optical axis
	MinMM      float64     // nearer than this is glare; 0 means 40
	MaxMM      float64     // farther than this is no jar; 0 means 1300 short, 4000 long
	MaxSigmaMM float64     // the chip's own doubt; 0 means 20
	OffsetMM   float64     // added by the chip, from calibration
	XtalkKcps  float64     // light of the cover glass, thousand counts per second and cell, for the chip to take off
	LowIO      bool        // the bus is pulled up to 1.8 V instead of 2.8 V
	Wake       laser.Waker // see package xshut
}

// Dev is one chip.
type Dev struct {
	laser.Ranger
	reg  *bus.Regs
	opts Opts
}

// New returns the chip at addr. It checks the options and does not touch the
// bus: a chip that is absent now may be plugged in later.
func New(b i2c.Bus, addr uint16, opts Opts) (*Dev, error) {
	d := &Dev{reg: bus.New(b, addr, "vl53l1x", bus.Index16), opts: opts}
	d.opts.fill()
	if err := d.opts.check(); err != nil {
		return nil, d.reg.Fail("options", err)
	}
	d.Ranger = laser.New(d.reg, opts.Wake, laser.Steps{
		SetUp: d.setUp, Remembers: d.remembers, Measure: d.measure, Judge: d.judge,
		Cells: cells, TakenKcps: &d.opts.XtalkKcps, MinMM: d.opts.MinMM, MaxMM: d.opts.MaxMM,
	})
	return d, nil
}

// fill puts the defaults in.
func (o *Opts) fill() {
	orInt := func(p *int, v int) {
		if *p == 0 {
			*p = v
		}
	}
	orFloat := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	orInt(&o.BudgetMS, 100)
	for _, ms := range []int{500, 200, 100, 50, 33, 20} {
		if o.BudgetMS >= ms {
			o.BudgetMS = ms
			break
		}
	}
	orInt(&o.Cells, 16)
	if o.Centre == 0 {
		o.Centre = 199
	}
	orFloat(&o.MinMM, 40)
	orFloat(&o.MaxSigmaMM, 20)
	orFloat(&o.MaxMM, map[Mode]float64{Short: 1300, Long: 4000}[o.Mode])
}

// check refuses what the chip cannot do.
func (o *Opts) check() error {
	_, ok := timings[o.BudgetMS]
	switch {
	case o.Mode > Long:
		return fmt.Errorf("mode %d is neither short nor long", o.Mode)
	case !ok:
		return fmt.Errorf("budget %d ms is below 20", o.BudgetMS)
	case o.Cells < 4 || o.Cells > 16:
		return fmt.Errorf("%d cells are not within 4 to 16", o.Cells)
	case !(o.MinMM >= 0 && o.MinMM < o.MaxMM && o.MaxMM <= 8190):
		return fmt.Errorf("range %v to %v mm makes no sense", o.MinMM, o.MaxMM)
	case !(o.MaxSigmaMM > 0):
		return fmt.Errorf("sigma limit %v mm is not above zero", o.MaxSigmaMM)
	case !(o.OffsetMM >= -1024 && o.OffsetMM < 1024):
		return fmt.Errorf("offset %v mm is not within ±1024", o.OffsetMM)
	case !(o.XtalkKcps >= 0 && o.XtalkKcps < 128):
		return fmt.Errorf("crosstalk %v kcps is not within 0 to 128", o.XtalkKcps)
	}
	return nil
}

// Halt stops the laser.
func (d *Dev) Halt() error {
	d.Forget()
	d.reg.Put8(regModeStart, modeStop)
	return d.Take("halt")
}

// remembers reports whether the chip still has our settings, by a mark that a
// reset wipes out.
func (d *Dev) remembers() bool { return d.reg.U16(regMark) == mark }

// size is the register value of a square of cells.
func (o *Opts) size() uint8 { return uint8((o.Cells-1)<<4 | (o.Cells - 1)) }

// measure does one measurement and returns the result registers. The interrupt
// line is set active high in settings, so bit 0 of its status is 1 while a
// result waits.
func (d *Dev) measure(ctx context.Context) []byte {
	d.reg.Put8(regIntClear, 1)
	idle := d.reg.Idle(regIntStatus, 1)
	d.reg.Put8(regModeStart, modeOnce)
	budget := time.Duration(d.opts.BudgetMS) * time.Millisecond
	d.reg.Pause(ctx, budget)
	// Beyond the light time the chip needs some milliseconds for itself.
	d.reg.WaitFor(ctx, "a result", 2*time.Millisecond, budget+100*time.Millisecond,
		func() bool { return d.reg.Shows(regIntStatus, 0xFF, idle|1) })
	return d.reg.Fresh(regResult, resultLen)
}
