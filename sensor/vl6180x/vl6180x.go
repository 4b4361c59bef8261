// Package vl6180x drives ST's VL6180X, a laser ranger for short jars: it sees
// from 0 to 100 mm for certain and up to 200 mm over bright dough.
//
// Each Read starts one measurement and waits for it. The chip looks down a
// cone of 25°. It has no register for the uncertainty of a reading, so
// Reading.Sigma is 0.
//
// Sources: ST data sheet DocID026171 (registers) and application note AN4545
// (start values), as public drivers repeat them; error codes from memory of
// the data sheet, table "Range error codes". Nothing here was run on hardware.
package vl6180x

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/laser"
)

// Addr is the address after power-on.
const Addr = laser.Addr

// Opts is how the chip is used. The zero value suits a short jar.
type Opts struct {
	ConvergeMS int         // most time for a target to be found, 1 to 63; 0 means 49
	MinMM      float64     // nearer than this is glare; 0 means 5
	MaxMM      float64     // farther than this is no jar; 0 means 200
	OffsetMM   float64     // added to each reading, from calibration, before MinMM and MaxMM
	XtalkKcps  float64     // light of the cover glass, thousand counts per second, for the chip to take off
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
	d := &Dev{reg: bus.New(b, addr, "vl6180x", bus.Index16), opts: opts}
	o := &d.opts
	o.ConvergeMS = cmp.Or(o.ConvergeMS, 49)
	limits := laser.Limits{MinMM: cmp.Or(o.MinMM, 5), MaxMM: cmp.Or(o.MaxMM, 200)}
	if err := errors.Join(o.check(), limits.Check(254)); err != nil {
		return nil, d.reg.Fail("options", err)
	}
	d.Ranger = laser.New(d.reg, opts.Wake, laser.Steps{
		SetUp: d.setUp, Remembers: d.remembers,
		Clear:  func() { d.reg.Put8(regIntClear, 0x07) },
		Start:  func() { d.reg.Put8(regStart, 0x01) },
		Ready:  laser.Ready{Register: regIntStatus, Mask: intAny, Want: intNewSample},
		Result: laser.Result{Register: regResult, Len: resultLen},
		Within: time.Duration(o.ConvergeMS)*time.Millisecond + 100*time.Millisecond,
		Decode: decode, Limits: limits,
		Cells: func([]byte) float64 { return 1 }, TakenKcps: &o.XtalkKcps, OffsetMM: o.OffsetMM,
	})
	return d, nil
}

// check refuses what the chip cannot do.
func (o *Opts) check() error {
	switch {
	case o.ConvergeMS < 1 || o.ConvergeMS > 63:
		return fmt.Errorf("time to converge %d ms is not within 1 to 63", o.ConvergeMS)
	case !(o.OffsetMM > -100 && o.OffsetMM < 100):
		return fmt.Errorf("offset %v mm is not within ±100", o.OffsetMM)
	case !(o.XtalkKcps >= 0 && o.XtalkKcps < 512_000):
		return fmt.Errorf("crosstalk %v kcps is not within 0 to 512000", o.XtalkKcps)
	}
	return nil
}

// remembers reports whether the chip still has our settings: a reset makes it
// fresh again.
func (d *Dev) remembers() bool { return d.reg.U8(regFresh) == 0 }

// Registers, by the names of the data sheet.
const (
	regModel     = 0x000 // IDENTIFICATION__MODEL_ID
	regIntConfig = 0x014 // SYSTEM__INTERRUPT_CONFIG_GPIO
	regIntClear  = 0x015 // SYSTEM__INTERRUPT_CLEAR
	regFresh     = 0x016 // SYSTEM__FRESH_OUT_OF_RESET
	regStart     = 0x018 // SYSRANGE__START
	regConverge  = 0x01C // SYSRANGE__MAX_CONVERGENCE_TIME
	regXtalk     = 0x01E // SYSRANGE__CROSSTALK_COMPENSATION_RATE, 9.7 fixed point
	regResult    = 0x04D // RESULT__RANGE_STATUS
	regIntStatus = 0x04F // RESULT__INTERRUPT_STATUS_GPIO
	regAddress   = 0x212 // I2C_SLAVE__DEVICE_ADDRESS

	intAny       = 0x07 // the bits that say what waits of ranging
	intNewSample = 0x04
	modelID      = 0xB4
	resultLen    = 0x80 - regResult // up to RESULT__RANGE_RETURN_CONV_TIME
	valueAt      = 0x062 - regResult
	rateAt       = 0x066 - regResult // RESULT__RANGE_RETURN_RATE, 9.7 fixed point
)

// startValues are the private registers of AN4545, section "SR03 settings",
// and the recommended public ones behind them.
var startValues = [...]struct {
	reg uint16
	v   byte
}{
	{0x207, 0x01}, {0x208, 0x01}, {0x096, 0x00}, {0x097, 0xFD}, {0x0E3, 0x01}, {0x0E4, 0x03},
	{0x0E5, 0x02}, {0x0E6, 0x01}, {0x0E7, 0x03}, {0x0F5, 0x02}, {0x0D9, 0x05}, {0x0DB, 0xCE},
	{0x0DC, 0x03}, {0x0DD, 0xF8}, {0x09F, 0x00}, {0x0A3, 0x3C}, {0x0B7, 0x00}, {0x0BB, 0x3C},
	{0x0B2, 0x09}, {0x0CA, 0x09}, {0x198, 0x01}, {0x1B0, 0x17}, {0x1AD, 0x00}, {0x0FF, 0x05},
	{0x100, 0x05}, {0x199, 0x05}, {0x1A6, 0x1B}, {0x1AC, 0x3E}, {0x1A7, 0x1F}, {0x030, 0x00},

	{0x10A, 0x30}, // READOUT__AVERAGING_SAMPLE_PERIOD: 48 samples
	{0x031, 0xFF}, // SYSRANGE__VHV_REPEAT_RATE: adapt to temperature every 255 ranges
	{0x02E, 0x01}, // SYSRANGE__VHV_RECALIBRATE: and once now
	{regIntConfig, intNewSample},
}

// setUp brings the chip from any state to ours.
func (d *Dev) setUp(context.Context) {
	laser.Identify(d.reg, uint16(d.reg.U8(regModel)), modelID, "VL6180X")
	for _, s := range startValues {
		d.reg.Put8(s.reg, s.v)
	}
	d.reg.Put8(regConverge, uint8(d.opts.ConvergeMS))
	d.reg.Put16(regXtalk, uint16(math.Round(d.opts.XtalkKcps*0.128)))
	d.reg.Put8(regFresh, 0) // From now on a 1 in here is the mark of a reset.
}

// Readdress moves the chip that answers at the power-on address to another
// one. It stays there until it loses its supply.
func Readdress(b i2c.Bus, to uint16) error {
	return laser.Readdress(b, "vl6180x", bus.Index16, regAddress, to)
}
