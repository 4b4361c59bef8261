// Package vl53l1x drives ST's laser rangers VL53L1X, which sees from 40 mm to
// 1.3 m (short mode) or 4 m (long mode), and VL53L4CD, which sees from 1 mm to
// 1.3 m. Both have the same registers but for a few.
//
// Each Read starts one measurement and waits for it, so the laser is off in
// between and no reading is older than it says. A measurement is believed when
// the chip calls it valid, its sigma is small, and it lies in the range where
// the chip can measure. The lower bound matters over wet dough: a glossy,
// tilted surface gives 20 to 30 mm with a clean status.
//
// The VL53L1X looks down a cone of 27° with all of its 16 by 16 cells, about
// 20° with 8 by 8 and 15° with 4 by 4, the VL53L4CD down one of 18°. Where the
// cone meets the wall of the jar, the reading is a mix of wall and dough: see
// Opts.Cells, and jar.ReachMM.
//
// A VL53L1X reads short, by 18 mm in one published log, unless it is given the
// offset that its factory wrote down: the two measurements that would apply it
// are switched off in ST's settings.
//
// A chip that lost its supply, or its settings, is found out before the next
// measurement and set up again.
//
// Sources: ST data sheets DocID031281 and DS13812; ST user manuals UM2510 and
// UM2931 of the ultra lite drivers (register names and start values as in their
// published sources, versions 3.5.0 and 1.0.0), UM2356 of the full one; cone
// angles from memory of the manuals. Nothing here was run on hardware.
package vl53l1x

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

// Chip is one of the two chips.
type Chip uint8

// The chips this driver knows.
const (
	VL53L1X Chip = iota
	VL53L4CD
)

// model holds what the two do differently.
type model struct {
	name       string
	number     uint16 // IDENTIFICATION__MODEL_ID and MODULE_TYPE
	start      byte   // what starts a measurement: one, or one of a row that is ended behind it
	minMM      float64
	mostBudget int
}

// models are the differences. The VL53L4CD has no mode of single measurements
// in ST's driver: its measurements in a row are ended behind the first one. Its
// data sheet promises a millimetre; at less than 10 there is starter on its
// window, or glare (a guess).
var models = [...]model{
	VL53L1X:  {"VL53L1X", 0xEACC, modeOnce, 40, 500},
	VL53L4CD: {"VL53L4CD", 0xEBAA, modeTimed, 10, 200},
}

// Mode is how far the chip looks.
type Mode uint8

// Short resists ambient light best and is right for jars and bowls. A VL53L4CD
// has no other.
const (
	Short Mode = iota
	Long
)

// Opts is how the chip is used. The zero value suits a jar.
type Opts struct {
	Chip       Chip
	Mode       Mode
	BudgetMS   int         // light time of one measurement, from 20; a VL53L1X rounds it down to 20, 33, 50, 100, 200 or 500; 0 means 100
	Cells      int         // side of the square of cells that look, 4 to 16; 0 means 16. A VL53L4CD has no choice
	MinMM      float64     // nearer than this is glare; 0 means 40, or 10 for a VL53L4CD
	MaxMM      float64     // farther than this is no jar; 0 means 1300 short, 4000 long
	MaxSigmaMM float64     // the chip's own doubt; 0 means 20
	OffsetMM   float64     // added to each reading, from calibration, before MinMM and MaxMM
	XtalkKcps  float64     // light of the cover glass, thousand counts per second and cell, for the chip to take off
	LowIO      bool        // the bus is pulled up to 1.8 V instead of 2.8 V
	Wake       laser.Waker // see package xshut
}

// Dev is one chip.
type Dev struct {
	laser.Ranger
	reg   *bus.Regs
	model model
	opts  Opts
}

// New returns the chip at addr. It checks the options and does not touch the
// bus: a chip that is absent now may be plugged in later.
func New(b i2c.Bus, addr uint16, opts Opts) (*Dev, error) {
	if int(opts.Chip) >= len(models) {
		return nil, fmt.Errorf("chip %d is neither a VL53L1X nor a VL53L4CD", opts.Chip)
	}
	d := &Dev{model: models[opts.Chip], opts: opts}
	d.reg = bus.New(b, addr, [...]string{"vl53l1x", "vl53l4cd"}[opts.Chip], bus.Index16)
	o := &d.opts
	o.fill(d.model)
	limits := laser.Limits{MinMM: o.MinMM, MaxMM: o.MaxMM}
	if err := errors.Join(o.check(d.model), limits.Check(8190)); err != nil {
		return nil, d.reg.Fail("options", err)
	}
	budget := time.Duration(o.BudgetMS) * time.Millisecond
	d.Ranger = laser.New(d.reg, opts.Wake, laser.Steps{
		SetUp: d.setUp, Remembers: d.remembers,
		Clear:  func() { d.reg.Put8(regIntClear, 1) },
		Start:  func() { d.reg.Put8(regModeStart, d.model.start) },
		Stop:   func() { d.reg.Put8(regModeStart, modeStop) },
		Ready:  laser.Ready{Register: regIntStatus, Mask: 1, Want: 1}, // active high in our settings
		Result: laser.Result{Register: regResult, Len: resultLen},
		Takes:  budget, Within: 2*budget + 100*time.Millisecond,
		Decode: d.decode, Limits: limits,
		Cells: cells, TakenKcps: &o.XtalkKcps, OffsetMM: o.OffsetMM,
	})
	return d, nil
}

// fill puts the defaults in.
func (o *Opts) fill(m model) {
	o.BudgetMS = cmp.Or(o.BudgetMS, 100)
	for _, ms := range []int{500, 200, 100, 50, 33, 20} {
		if o.Chip == VL53L1X && o.BudgetMS >= ms {
			o.BudgetMS = ms
			break
		}
	}
	o.Cells = cmp.Or(o.Cells, 16)
	o.MinMM = cmp.Or(o.MinMM, m.minMM)
	o.MaxSigmaMM = cmp.Or(o.MaxSigmaMM, 20)
	if o.MaxMM == 0 {
		o.MaxMM = map[Mode]float64{Short: 1300, Long: 4000}[o.Mode]
	}
}

// check refuses what the chip cannot do.
func (o *Opts) check(m model) error {
	switch {
	case o.Mode > Long:
		return fmt.Errorf("mode %d is neither short nor long", o.Mode)
	case o.Chip == VL53L4CD && (o.Mode == Long || o.Cells != 16):
		return errors.New("a VL53L4CD has neither a long mode nor a choice of cells")
	case o.BudgetMS < 20 || o.BudgetMS > m.mostBudget:
		return fmt.Errorf("budget %d ms is not within 20 to %d", o.BudgetMS, m.mostBudget)
	case o.Cells < 4 || o.Cells > 16:
		return fmt.Errorf("%d cells are not within 4 to 16", o.Cells)
	case !(o.MaxSigmaMM > 0):
		return fmt.Errorf("sigma limit %v mm is not above zero", o.MaxSigmaMM)
	case !(o.OffsetMM >= -1024 && o.OffsetMM < 1024):
		return fmt.Errorf("offset %v mm is not within ±1024", o.OffsetMM)
	case !(o.XtalkKcps >= 0 && o.XtalkKcps < 128):
		return fmt.Errorf("crosstalk %v kcps is not within 0 to 128", o.XtalkKcps)
	}
	return nil
}

// remembers reports whether the chip still has our settings, by a mark that a
// reset wipes out.
func (d *Dev) remembers() bool { return d.reg.U16(regMark) == mark }

// size is the register value of a square of cells.
func (o *Opts) size() uint8 { return uint8((o.Cells-1)<<4 | (o.Cells - 1)) }
