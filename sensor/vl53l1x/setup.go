package vl53l1x

import (
	"context"
	"errors"
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/laser"
)

// Registers, by the names of ST's ultra lite driver (VL53L1X_api.h 3.5.0).
const (
	regReset      = 0x0000 // SOFT_RESET
	regAddress    = 0x0001 // I2C_SLAVE__DEVICE_ADDRESS
	regVHVBound   = 0x0008 // VHV_CONFIG__TIMEOUT_MACROP_LOOP_BOUND
	regVHVInit    = 0x000B // VHV_CONFIG__INIT
	regXtalkPlane = 0x0016 // ALGO__CROSSTALK_COMPENSATION_PLANE_OFFSET_KCPS, 7.9 fixed point
	regXtalkX     = 0x0018 // ALGO__CROSSTALK_COMPENSATION_X_PLANE_GRADIENT_KCPS
	regXtalkY     = 0x001A // ALGO__CROSSTALK_COMPENSATION_Y_PLANE_GRADIENT_KCPS
	regOffset     = 0x001E // ALGO__PART_TO_PART_RANGE_OFFSET_MM, quarters of a millimetre
	regOuter      = 0x0022 // MM_CONFIG__OUTER_OFFSET_MM
	regSettings   = 0x002D // first of the 91 settings
	regIntStatus  = 0x0031 // GPIO__TIO_HV_STATUS
	regPhasecal   = 0x004B // PHASECAL_CONFIG__TIMEOUT_MACROP
	regTimeoutA   = 0x005E // RANGE_CONFIG__TIMEOUT_MACROP_A
	regVCSELA     = 0x0060 // RANGE_CONFIG__VCSEL_PERIOD_A
	regTimeoutB   = 0x0061 // RANGE_CONFIG__TIMEOUT_MACROP_B
	regVCSELB     = 0x0063 // RANGE_CONFIG__VCSEL_PERIOD_B
	regPhaseHigh  = 0x0069 // RANGE_CONFIG__VALID_PHASE_HIGH
	regMark       = 0x0072 // SYSTEM__THRESH_HIGH, unused without a window interrupt
	regWOI        = 0x0078 // SD_CONFIG__WOI_SD0
	regPhase      = 0x007A // SD_CONFIG__INITIAL_PHASE_SD0
	regROICentre  = 0x007F // ROI_CONFIG__USER_ROI_CENTRE_SPAD
	regROISize    = 0x0080 // ROI_CONFIG__USER_ROI_REQUESTED_GLOBAL_XY_SIZE
	regIntClear   = 0x0086 // SYSTEM__INTERRUPT_CLEAR
	regModeStart  = 0x0087 // SYSTEM__MODE_START
	regResult     = 0x0089 // RESULT__RANGE_STATUS, first of 17 result bytes
	regBooted     = 0x00E5 // FIRMWARE__SYSTEM_STATUS
	regModel      = 0x010F // IDENTIFICATION__MODEL_ID and MODULE_TYPE
	regModeCentre = 0x013E // ROI_CONFIG__MODE_ROI_CENTRE_SPAD
)

const (
	modeStop  = 0x00
	modeOnce  = 0x10   // one measurement, then standby
	modeTimed = 0x40   // one after another
	mark      = 0xC1EA // our mark in a register that is zero after a reset
	resultLen = 17

	middleCell = 199 // of the whole receiver
)

// settings are the start values of registers 0x2D to 0x87 as ST's ultra lite
// driver writes them (VL53L1X_api.c 3.5.0). Only those named there are
// documented.
var settings = [...]byte{
	0x00, 0x00, 0x00, 0x01, 0x02, 0x00, 0x02, 0x08, // 0x2D: fast mode, bus and interrupt pull-up, polarity
	0x00, 0x08, 0x10, 0x01, 0x01, 0x00, 0x00, 0x00, // 0x35
	0x00, 0xFF, 0x00, 0x0F, 0x00, 0x00, 0x00, 0x00, // 0x3D
	0x00, 0x20, 0x0B, 0x00, 0x00, 0x02, 0x0A, 0x21, // 0x45: 0x46 interrupt on a new sample
	0x00, 0x00, 0x05, 0x00, 0x00, 0x00, 0x00, 0xC8, // 0x4D
	0x00, 0x00, 0x38, 0xFF, 0x01, 0x00, 0x08, 0x00, // 0x55
	0x00, 0x01, 0xCC, 0x0F, 0x01, 0xF1, 0x0D, 0x01, // 0x5D: 0x64 sigma limit 90 mm, 14.2 fixed point
	0x68, 0x00, 0x80, 0x08, 0xB8, 0x00, 0x00, 0x00, // 0x65: 0x66 least signal 1 Mcps, 9.7 fixed point
	0x00, 0x0F, 0x89, 0x00, 0x00, 0x00, 0x00, 0x00, // 0x6D: 0x6C time between measurements
	0x00, 0x00, 0x01, 0x0F, 0x0D, 0x0E, 0x0E, 0x00, // 0x75
	0x00, 0x02, 0xC7, 0xFF, 0x9B, 0x00, 0x00, 0x00, // 0x7D: 0x7F region of interest
	0x01, 0x00, 0x00, // 0x85: 0x86 clear interrupt, 0x87 mode
}

// timings are the two timeout registers for each light time in milliseconds,
// for short and for long mode (VL53L1X_SetTimingBudgetInMs, VL53L1X only).
var timings = map[int][2][2]uint16{
	20:  {{0x0051, 0x006E}, {0x001E, 0x0022}},
	33:  {{0x00D6, 0x006E}, {0x0060, 0x006E}},
	50:  {{0x01AE, 0x01E8}, {0x00AD, 0x00C6}},
	100: {{0x02E1, 0x0388}, {0x01CC, 0x01EA}},
	200: {{0x03E1, 0x0496}, {0x02D9, 0x02F8}},
	500: {{0x0591, 0x05C1}, {0x048F, 0x04A4}},
}

// setUp brings the chip from any state to ours.
func (d *Dev) setUp(ctx context.Context) {
	if d.identify(); d.opts.Wake == nil {
		d.softReset(ctx)
	}
	d.reg.WaitFor(ctx, "boot", time.Millisecond, 20*time.Millisecond, func() bool { return d.reg.U8(regBooted)&1 == 1 })
	d.identify()
	d.configure()
	// The first measurement after power-on finds the supply of the cells; the
	// following ones start from what it found.
	d.Once(ctx)
	d.reg.Put8(regVHVBound, 0x09)
	d.reg.Put8(regVHVInit, 0x00)
}

// identify refuses a chip that is another. One that was left in reset may have
// no number; the soft reset helps it out.
func (d *Dev) identify() { laser.Identify(d.reg, d.reg.U16(regModel), d.model.number, d.model.name) }

// softReset puts the registers back to their power-on values, so that whatever
// noise or another program wrote there is gone. The pause of at least 100 µs
// is that of ST's driver (VL53L1_SoftwareReset, from memory).
func (d *Dev) softReset(ctx context.Context) {
	d.reg.Put8(regReset, 0x00)
	d.reg.Pause(ctx, time.Millisecond)
	d.reg.Put8(regReset, 0x01)
	d.reg.Pause(ctx, 2*time.Millisecond)
}

// configure writes all settings.
func (d *Dev) configure() {
	s := settings
	s[1], s[2] = d.pull(), d.pull() // 0x2E and 0x2F
	d.reg.Write(regSettings, s[:]...)
	d.reg.Put16(regXtalkX, 0)
	d.reg.Put16(regXtalkY, 0)
	d.reg.Put16(regXtalkPlane, d.opts.xtalk())
	d.mode()
	if d.opts.Chip == VL53L4CD {
		d.configureL4CD()
	} else {
		t := timings[d.opts.BudgetMS][d.opts.Mode]
		d.reg.Put16(regTimeoutA, t[0])
		d.reg.Put16(regTimeoutB, t[1])
		d.region()
		d.factoryOffset()
	}
	d.reg.Put16(regMark, mark)
}

// region chooses the cells that look, as VL53L1X_SetROI does: around the
// optical centre that the factory found, or, for a square that would not fit
// there, around the middle of the receiver. Beside the optical axis a small
// region squints.
func (d *Dev) region() {
	centre := uint8(middleCell)
	if d.opts.Cells <= 10 {
		centre = d.reg.Sure(regModeCentre, 1)[0]
	}
	d.reg.Put8(regROICentre, centre)
	d.reg.Put8(regROISize, d.opts.size())
}

// factoryOffset has the chip add the offset that its factory found: it stands
// in whole millimetres in one register and counts in quarters in another. With
// the measurements MM1 and MM2 switched off, as they are in the settings, the
// chip does not do so by itself (VL53L1_init_and_start_range does). A garbled
// offset would spoil every reading, so the registers around it, which hold what
// was written, are read along with it.
func (d *Dev) factoryOffset() {
	b := d.reg.Sure(regXtalkPlane, regSettings+3-regXtalkPlane)
	behind := b[regSettings-regXtalkPlane:]
	if laser.Count(b, 1) != float64(d.opts.xtalk()) || [4]byte(b[2:]) != [4]byte{} ||
		behind[0] != settings[0] || behind[1] != d.pull() || behind[2] != d.pull() {
		d.reg.Refuse(errTorn)
	}
	mm := uint16(b[regOuter-regXtalkPlane])<<8 | uint16(b[regOuter-regXtalkPlane+1])
	d.reg.Put16(regOffset, mm*4&0x1FFF)
}

var errTorn = errors.New("the registers around the factory's offset do not hold what was written: the transfer broke off")

// pull is the value of two settings: the bus is pulled up to the chip's own
// supply, or to 1.8 V.
func (d *Dev) pull() byte {
	if d.opts.LowIO {
		return 0
	}
	return 1
}

// xtalk is the register value of the cover glass's light.
func (o *Opts) xtalk() uint16 { return uint16(math.Round(o.XtalkKcps * 512)) }

// mode writes the registers that make the distance mode
// (VL53L1X_SetDistanceMode).
func (d *Dev) mode() {
	if d.opts.Mode == Long {
		d.reg.Put8(regPhasecal, 0x0A)
		d.reg.Put8(regVCSELA, 0x0F)
		d.reg.Put8(regVCSELB, 0x0D)
		d.reg.Put8(regPhaseHigh, 0xB8)
		d.reg.Put16(regWOI, 0x0F0D)
		d.reg.Put16(regPhase, 0x0E0E)
		return
	}
	d.reg.Put8(regPhasecal, 0x14)
	d.reg.Put8(regVCSELA, 0x07)
	d.reg.Put8(regVCSELB, 0x05)
	d.reg.Put8(regPhaseHigh, 0x38)
	d.reg.Put16(regWOI, 0x0705)
	d.reg.Put16(regPhase, 0x0606)
}

// Readdress moves the chip that answers at the power-on address to another
// one. It stays there until it loses its supply.
func Readdress(b i2c.Bus, to uint16) error {
	return laser.Readdress(b, "vl53l1x", bus.Index16, regAddress, to)
}
