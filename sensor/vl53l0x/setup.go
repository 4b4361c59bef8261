package vl53l0x

import (
	"context"
	"math"
	"math/bits"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/laser"
)

// Registers, by the names of vl53l0x_device.h. Register 0xFF turns pages;
// numbers without a name belong to ST's private ones.
const (
	regStart       = 0x00 // SYSRANGE_START
	regSequence    = 0x01 // SYSTEM_SEQUENCE_CONFIG
	regIntConfig   = 0x0A // SYSTEM_INTERRUPT_CONFIG_GPIO
	regIntClear    = 0x0B // SYSTEM_INTERRUPT_CLEAR
	regMark        = 0x0C // SYSTEM_THRESH_HIGH, unused without a window interrupt
	regIntStatus   = 0x13 // RESULT_INTERRUPT_STATUS
	regResult      = 0x14 // RESULT_RANGE_STATUS, first of 12 result bytes; regXtalk follows
	regXtalk       = 0x20 // CROSSTALK_COMPENSATION_PEAK_RATE_MCPS, 3.13 fixed point
	regSignalLimit = 0x44 // FINAL_RANGE_CONFIG_MIN_COUNT_RATE_RTN_LIMIT, 9.7 fixed point
	regRefSpads    = 0x4E // DYNAMIC_SPAD_NUM_REQUESTED_REF_SPAD, on page 1
	regRefStart    = 0x4F // DYNAMIC_SPAD_REF_EN_START_OFFSET, on page 1
	regMSRC        = 0x60 // MSRC_CONFIG_CONTROL
	regFinalTime   = 0x71 // FINAL_RANGE_CONFIG_TIMEOUT_MACROP
	regPolarity    = 0x84 // GPIO_HV_MUX_ACTIVE_HIGH
	regPull        = 0x89 // VHV_CONFIG_PAD_SCL_SDA__EXTSUP_HV
	regAddress     = 0x8A // I2C_SLAVE_DEVICE_ADDRESS
	regSpadMap     = 0xB0 // GLOBAL_CONFIG_SPAD_ENABLES_REF_0, first of six
	regRefSelect   = 0xB6 // GLOBAL_CONFIG_REF_EN_START_SELECT
	regReset       = 0xBF // SOFT_RESET_GO2_SOFT_RESET_N
	regModel       = 0xC0 // IDENTIFICATION_MODEL_ID, and 0xAA behind it
	regPage        = 0xFF
)

const (
	startOnce    = 0x01
	intAny       = 0x07   // the bits that say what waits
	intNewSample = 0x04   // REG_SYSTEM_INTERRUPT_GPIO_NEW_SAMPLE_READY
	mark         = 0x0CEA // ST's driver takes 12 bits of that register
	modelID      = 0xEEAA
	resultLen    = 14   // with the crosstalk rate behind the results, which is known
	noTarget     = 8190 // the distance given where no target is seen
)

// tuning is the list of settings that ST's driver loads
// (DefaultTuningSettings in vl53l0x_tuning.h): register, value.
var tuning = [...][2]byte{
	{0xFF, 0x01}, {0x00, 0x00}, {0xFF, 0x00}, {0x09, 0x00}, {0x10, 0x00}, {0x11, 0x00},
	{0x24, 0x01}, {0x25, 0xFF}, {0x75, 0x00}, {0xFF, 0x01}, {0x4E, 0x2C}, {0x48, 0x00},
	{0x30, 0x20}, {0xFF, 0x00}, {0x30, 0x09}, {0x54, 0x00}, {0x31, 0x04}, {0x32, 0x03},
	{0x40, 0x83}, {0x46, 0x25}, {0x60, 0x00}, {0x27, 0x00}, {0x50, 0x06}, {0x51, 0x00},
	{0x52, 0x96}, {0x56, 0x08}, {0x57, 0x30}, {0x61, 0x00}, {0x62, 0x00}, {0x64, 0x00},
	{0x65, 0x00}, {0x66, 0xA0}, {0xFF, 0x01}, {0x22, 0x32}, {0x47, 0x14}, {0x49, 0xFF},
	{0x4A, 0x00}, {0xFF, 0x00}, {0x7A, 0x0A}, {0x7B, 0x00}, {0x78, 0x21}, {0xFF, 0x01},
	{0x23, 0x34}, {0x42, 0x00}, {0x44, 0xFF}, {0x45, 0x26}, {0x46, 0x05}, {0x40, 0x40},
	{0x0E, 0x06}, {0x20, 0x1A}, {0x43, 0x40}, {0xFF, 0x00}, {0x34, 0x03}, {0x35, 0x44},
	{0xFF, 0x01}, {0x31, 0x04}, {0x4B, 0x09}, {0x4C, 0x05}, {0x4D, 0x04}, {0xFF, 0x00},
	{0x44, 0x00}, {0x45, 0x20}, {0x47, 0x08}, {0x48, 0x28}, {0x67, 0x00}, {0x70, 0x04},
	{0x71, 0x01}, {0x72, 0xFE}, {0x76, 0x00}, {0x77, 0x00}, {0xFF, 0x01}, {0x0D, 0x01},
	{0xFF, 0x00}, {0x80, 0x01}, {0x01, 0xF8}, {0xFF, 0x01}, {0x8E, 0x01}, {0x00, 0x01},
	{0xFF, 0x00}, {0x80, 0x00},
}

// setUp brings the chip from any state to ours, in the order of ST's driver:
// DataInit, StaticInit, the timing, and the two reference calibrations.
func (d *Dev) setUp(ctx context.Context) {
	d.reg.Put8(regPage, 0x00) // A read cut short may have left another page open.
	if d.identify(); d.opts.Wake == nil {
		d.softReset(ctx)
		d.identify()
	}
	d.dataInit()
	d.referenceSpads(ctx)
	d.configure()
	d.calibrate(ctx, 0x01, 0x40) // supply of the cells
	d.calibrate(ctx, 0x02, 0x00) // phase
	d.reg.Put8(regSequence, sequence)
	d.reg.Put16(regMark, mark)
}

// identify refuses a chip that is another. One that was left in reset has no
// number; the soft reset helps it out.
func (d *Dev) identify() { laser.Identify(d.reg, d.reg.U16(regModel), modelID, "VL53L0X") }

// softReset puts the registers back to their power-on values
// (VL53L0X_ResetDevice). Without it a stop value that was once read wrongly
// would stay in its register, and be read from there again.
func (d *Dev) softReset(ctx context.Context) {
	d.reg.Put8(regReset, 0x00)
	d.reg.WaitFor(ctx, "the reset to begin", time.Millisecond, 20*time.Millisecond, func() bool { return d.reg.U8(regModel) == 0 })
	d.reg.Put8(regReset, 0x01)
	d.reg.Pause(ctx, 2*time.Millisecond)
	d.reg.WaitFor(ctx, "the reset to end", time.Millisecond, 20*time.Millisecond, func() bool { return d.reg.U8(regModel) != 0 })
}

// dataInit is VL53L0X_DataInit: the bus level, and the factory's stop value.
func (d *Dev) dataInit() {
	if !d.opts.LowIO {
		d.reg.Put8(regPull, d.reg.Sure(regPull, 1)[0]|0x01)
	}
	d.reg.Put8(0x88, 0x00) // I²C in standard mode
	d.reg.Put8(0x80, 0x01)
	d.reg.Put8(regPage, 0x01)
	d.reg.Put8(0x00, 0x00)
	d.stop = d.reg.Sure(0x91, 1)[0]
	d.reg.Put8(0x00, 0x01)
	d.reg.Put8(regPage, 0x00)
	d.reg.Put8(0x80, 0x00)
	d.reg.Put8(regMSRC, d.reg.Sure(regMSRC, 1)[0]|0x12) // no limits on signal before the range proper
	d.reg.Put8(regSequence, 0xFF)
}

// referenceSpads enables as many reference cells as the factory wrote down,
// counted from the first that suits (VL53L0X_set_reference_spads).
func (d *Dev) referenceSpads(ctx context.Context) {
	count, aperture := d.spadInfo(ctx)
	var cells [6]byte
	copy(cells[:], d.reg.Sure(regSpadMap, 6))
	d.reg.Put8(regPage, 0x01)
	d.reg.Put8(regRefStart, 0x00)
	d.reg.Put8(regRefSpads, 0x2C)
	d.reg.Put8(regPage, 0x00)
	d.reg.Put8(regRefSelect, 0xB4)
	chosen := chooseSpads(cells, count, aperture)
	d.reg.Write(regSpadMap, chosen[:]...)
}

// chooseSpads keeps the first count good cells of the map. Cells with an
// aperture start at number 12.
func chooseSpads(cells [6]byte, count int, aperture bool) (kept [6]byte) {
	first := 0
	if aperture {
		first = 12
	}
	for i := first; i < 48 && count > 0; i++ {
		if bit := byte(1) << (i % 8); cells[i/8]&bit != 0 {
			kept[i/8] |= bit
			count--
		}
	}
	return kept
}

// spadInfo reads count and kind of the reference cells from the chip's own
// memory (VL53L0X_get_info_from_device).
func (d *Dev) spadInfo(ctx context.Context) (count int, aperture bool) {
	d.reg.Put8(0x80, 0x01)
	d.reg.Put8(regPage, 0x01)
	d.reg.Put8(0x00, 0x00)
	d.reg.Put8(regPage, 0x06)
	d.reg.Put8(0x83, d.reg.Sure(0x83, 1)[0]|0x04)
	d.reg.Put8(regPage, 0x07)
	d.reg.Put8(0x81, 0x01)
	d.reg.Put8(0x80, 0x01)
	d.reg.Put8(0x94, 0x6B)
	d.reg.Put8(0x83, 0x00)
	d.reg.WaitFor(ctx, "the chip's memory", time.Millisecond, 50*time.Millisecond, func() bool {
		return d.reg.Sure(0x83, 1)[0] != 0
	})
	d.reg.Put8(0x83, 0x01)
	info := d.reg.Sure(0x92, 1)[0]
	d.reg.Put8(0x81, 0x00)
	d.reg.Put8(regPage, 0x06)
	d.reg.Put8(0x83, d.reg.Sure(0x83, 1)[0]&^0x04)
	d.reg.Put8(regPage, 0x01)
	d.reg.Put8(0x00, 0x01)
	d.reg.Put8(regPage, 0x00)
	d.reg.Put8(0x80, 0x00)
	return int(info & 0x7F), info&0x80 != 0
}

// configure loads the tuning, and our own settings over it.
func (d *Dev) configure() {
	for _, set := range tuning {
		d.reg.Put8(uint16(set[0]), set[1])
	}
	d.reg.Put8(regIntConfig, intNewSample)
	d.reg.Put8(regPolarity, d.reg.Sure(regPolarity, 1)[0]&^0x10)
	d.clear()
	d.reg.Put16(regSignalLimit, uint16(math.Round(d.opts.MinSignal*128)))
	d.reg.Put16(regXtalk, d.opts.xtalk())
	d.reg.Put8(regSequence, sequence)
	d.reg.Put16(regFinalTime, finalTimeout(d.opts.BudgetMS*1000))
}

// xtalk is the register value of the cover glass's light.
func (o *Opts) xtalk() uint16 { return uint16(math.Round(o.XtalkKcps * 8.192)) }

// calibrate runs one of the two reference calibrations
// (VL53L0X_perform_single_ref_calibration).
func (d *Dev) calibrate(ctx context.Context, step, start byte) {
	d.reg.Put8(regSequence, step)
	d.reg.Put8(regStart, 0x01|start)
	d.reg.WaitFor(ctx, "a reference calibration", time.Millisecond, 200*time.Millisecond,
		func() bool { return d.reg.Shows(regIntStatus, intAny, intNewSample) })
	d.clear()
	d.reg.Put8(regStart, 0x00)
}

// The steps of a measurement that run (SYSTEM_SEQUENCE_CONFIG 0xE8): dynamic
// cell selection, pre-range, final range. Their times in microseconds, and the
// timeouts that the tuning sets for the first two, are constants of ST's
// driver (vl53l0x_api_core.c, VL53L0X_set_measurement_timing_budget).
const (
	sequence      = 0xE8
	startEnd      = 1910 + 960
	dssOverhead   = 690
	preOverhead   = 660
	finalOverhead = 550
	preMclks      = 0x96 + 1 // register 0x51
	dssMclks      = 0x25 + 1 // register 0x46
	prePclks      = 14       // register 0x50
	finalPclks    = 10       // register 0x70
)

// macroNS is the length of a macro period, in nanoseconds, for a laser period
// in clocks: 2304 periods of 1.655 ns clocks.
func macroNS(pclks int) int { return (2304*pclks*1655 + 500) / 1000 }

// finalTimeout returns the register value that makes a whole measurement take
// the given time.
func finalTimeout(budgetUS int) uint16 {
	pre := macroNS(prePclks)
	used := startEnd + finalOverhead + preOverhead + preMclks*pre/1000 + 2*(dssOverhead+dssMclks*pre/1000)
	mclks := max(0, budgetUS-used) * 1000 / macroNS(finalPclks)
	return encodeTimeout(mclks + preMclks)
}

// encodeTimeout packs a number of macro periods into a mantissa in the low
// byte and a shift in the high one: (low << high) + 1.
func encodeTimeout(mclks int) uint16 {
	if mclks <= 0 {
		return 0
	}
	v := uint(mclks - 1)
	shift := max(0, bits.Len(v)-8)
	return uint16(shift)<<8 | uint16(v>>shift)
}

// Readdress moves the chip that answers at the power-on address to another
// one. It stays there until it loses its supply.
func Readdress(b i2c.Bus, to uint16) error {
	return laser.Readdress(b, "vl53l0x", bus.Index8, regAddress, to)
}
