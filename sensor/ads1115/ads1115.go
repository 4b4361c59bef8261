// Package ads1115 drives TI's ADS1115, an analogue to digital converter of 16
// bits and four inputs, and reads thermistors with it.
//
// A thermistor sits in a divider between the supply and ground. With the
// supply itself on a second input the reading does not depend on it; without,
// the supply is taken for exactly what the options say, and one percent of
// error in it is a quarter of a degree near 25 °C.
//
// The chip has no checksum. Each voltage is therefore converted at two gains,
// where the same volts are different bits, and both must agree; and the chip's
// settings are read back with each result, for a chip that was reset in between
// has lost them. A conversion takes 63 ms, three periods of 50 Hz mains, which
// averages most of their hum away.
//
// Data sheet: TI SBAS444E, sections "Register Map" and "Data Format".
package ads1115

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor"
	"leavend/sensor/bus"
	"leavend/sensor/ntc"
)

// Addr is the address with the pin ADDR at ground. At the supply it is 0x49,
// at SDA 0x4A, at SCL 0x4B.
const Addr = 0x48

// Registers and the parts of the configuration register.
const (
	regConversion = 0
	regConfig     = 1

	start      = 1 << 15 // written: begin; read: no conversion runs
	single     = 1 << 14 // the input against ground
	inputShift = 12
	once       = 1 << 8 // one conversion, then sleep
	rate16     = 1 << 5 // 16 conversions a second
	noCompare  = 3      // comparator off
)

// gain is a full scale, in volts, and its bits in the configuration (data
// sheet, table "Full-Scale Range and LSB Size").
type gain struct {
	full float64
	bits uint16
}

// gains returns the two that hold a supply of 3.3 V.
func gains() [2]gain { return [2]gain{{4.096, 1 << 9}, {6.144, 0 << 9}} }

// agree reports whether two voltages are one seen at two gains: those differ
// by 0.1 % and an offset of three steps at most (data sheet, "Gain match" and
// "Offset error"). It is 0.07 °C near 25 °C.
func agree(a, b float64) bool { return math.Abs(a-b) <= 0.001*math.Abs(a)+0.0006 }

// broken reports whether a code looks like half a transfer: one that broke off
// ends in ones, one that lost a clock repeats a byte. One code in 128 does so by
// itself; both codes of one voltage do so in one case of some hundred more. All
// zeros and all ones are ground, of which no temperature is made.
func broken(code uint16) bool {
	return code != 0 && code != 0xFFFF && (code&0xFF == 0xFF || code>>8 == code&0xFF)
}

// Dev is one chip.
type Dev struct {
	reg *bus.Regs
}

// New returns the chip at addr. It does not touch the bus.
func New(b i2c.Bus, addr uint16) *Dev {
	return &Dev{reg: bus.New(b, addr, "ads1115", bus.Index8)}
}

// String names the chip, its bus and its address.
func (d *Dev) String() string { return d.reg.String() }

// Halt does nothing: the chip sleeps between conversions.
func (d *Dev) Halt() error { return nil }

// volts converts input n, 0 to 3, against ground, at both gains.
func (d *Dev) volts(ctx context.Context, input int) float64 {
	g := gains()
	codes := [2]uint16{d.convert(ctx, input, g[0]), d.convert(ctx, input, g[1])}
	a, b := decode(codes[0], g[0].full), decode(codes[1], g[1].full)
	if !agree(a, b) || broken(codes[0]) && broken(codes[1]) {
		d.reg.Refuse(fmt.Errorf("%w: %.3f V at one gain, %.3f V at the other", bus.ErrNoise, a, b))
	}
	return (a + b) / 2
}

// convert does one conversion and returns its code.
func (d *Dev) convert(ctx context.Context, input int, g gain) uint16 {
	config := single | uint16(input)<<inputShift | g.bits | once | rate16 | noCompare
	d.reg.Put16(regConfig, config|start)
	d.reg.Pause(ctx, 56*time.Millisecond) // The data rate may be off by a tenth.
	d.reg.WaitFor(ctx, "a conversion", 2*time.Millisecond, 50*time.Millisecond, func() bool { return d.idle(config) })
	b := d.reg.Sure(regConversion, 2)
	return uint16(b[0])<<8 | uint16(b[1])
}

// ErrReset says that the chip does not hold what was written to it.
var ErrReset = errors.New("the chip lost its settings, as in a dip of its supply")

// idle reports whether the conversion with this configuration is over. The
// whole register must come back, twice: it says that the conversion was the one
// asked for.
func (d *Dev) idle(config uint16) bool {
	for range 2 {
		got := d.reg.U16(regConfig)
		if got&^start != config {
			d.reg.Refuse(fmt.Errorf("%w: 0x%04x in place of 0x%04x", ErrReset, got, config))
		}
		if got&start == 0 {
			return false
		}
	}
	return true
}

// decode turns a conversion into volts: two's complement, 8000h is minus the
// full scale.
func decode(raw uint16, full float64) float64 { return float64(int16(raw)) / 32768 * full }

// Thermistor says how a thermistor is wired and what it is.
type Thermistor struct {
	Input       int // 0 to 3
	Divider     ntc.Divider
	Curve       ntc.Curve
	SupplyV     float64 // of the divider; 0 means 3.3
	SupplyInput int     // input that measures the supply, plus one; 0 for none
}

// Probe is a thermistor on an input.
type Probe struct {
	dev *Dev
	th  Thermistor
}

// Probe returns the thermistor as a source.
func (d *Dev) Probe(th Thermistor) (*Probe, error) {
	if th.SupplyV == 0 {
		th.SupplyV = 3.3
	}
	switch {
	case th.Input < 0 || th.Input > 3 || th.SupplyInput < 0 || th.SupplyInput > 4 || th.SupplyInput == th.Input+1:
		return nil, fmt.Errorf("%s: input %d, supply on input %d: there are four, 0 to 3", d, th.Input, th.SupplyInput-1)
	case !(th.Divider.Ohms > 0):
		return nil, fmt.Errorf("%s: a fixed resistor of %v Ω cannot be", d, th.Divider.Ohms)
	case !(th.SupplyV >= 1 && th.SupplyV <= 4):
		return nil, fmt.Errorf("%s: a supply of %v V is not within 1 to 4, the range that is converted", d, th.SupplyV)
	case th.Curve == nil:
		return nil, fmt.Errorf("%s: the thermistor has no curve", d)
	}
	return &Probe{dev: d, th: th}, nil
}

// String names the chip and the input.
func (p *Probe) String() string { return fmt.Sprintf("%s input %d", p.dev, p.th.Input) }

// Read converts and returns the temperature.
func (p *Probe) Read(ctx context.Context) (sensor.Reading, error) {
	at := time.Now()
	supply := p.th.SupplyV
	if p.th.SupplyInput > 0 {
		supply = p.dev.volts(ctx, p.th.SupplyInput-1)
	}
	v := p.dev.volts(ctx, p.th.Input)
	if err := p.dev.reg.Take(); err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", p, err)
	}
	if supply < 1 {
		return sensor.Reading{}, fmt.Errorf("%s: read: the divider's supply is %.2f V", p, supply)
	}
	ohms, err := p.th.Divider.Resistance(v / supply)
	if err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", p, err)
	}
	tempC := p.th.Curve.TempC(ohms)
	if !(tempC >= -40 && tempC <= 125) {
		return sensor.Reading{}, fmt.Errorf("%s: read: %.1f °C, from %.0f Ω, lies outside -40 to 125", p, tempC, ohms)
	}
	return sensor.Reading{At: at, Quantity: sensor.Temperature, Value: tempC}, nil
}
