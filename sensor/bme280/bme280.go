// Package bme280 drives Bosch's BME280, which measures warmth and damp of the
// air, and the BMP280, which is the same without the damp. Both measure the
// pressure too, which nothing here asks for.
//
// The chip has no checksums and does not say that a result is new, so this is
// made sure of otherwise. Each reading takes two measurements: the first with
// the pressure, the second without, which sets the registers of the pressure to
// a known number. A result with that number behind one without is of the second
// measurement. In front of it stands a mark, another one for each reading, so
// that no reply of before passes for one of now; and the lowest bits of the
// temperature are always 0: a result that was shifted or cut short shows. A chip
// that lost its settings, or was changed for another, does not know the mark.
//
// Limits: -40 to 85 °C, ±1 °C between 0 and 65 °C, ±3 % between 20 and 80 %.
// Its own warmth makes a chip on a board read some tenths too high: compare
// with a good thermometer, and set offset_c.
//
// Data sheets: Bosch BST-BME280-DS002 version 1.6 (registers: section 5;
// formulas: section 4.2 and appendix 8.1), BST-BMP280-DS001 (worked example:
// section 3.12), from memory. Nothing here was run on hardware.
package bme280

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/internal/air"
)

// Addr is the address with the pin SDO low; with SDO high it is 0x77.
const Addr = 0x76

// Kind is one of the two chips.
type Kind uint8

// The chips this driver knows.
const (
	BME280 Kind = iota
	BMP280
)

// Registers, by the names of the data sheet, table 18 (memory map).
const (
	regTrim    = 0x88 // calib00, the first of the factory's numbers
	regID      = 0xD0 // id
	regReset   = 0xE0 // reset
	regTrimE1  = 0xE1 // calib26, the numbers of the humidity
	regCtrlHum = 0xF2 // ctrl_hum, which counts with the next write of ctrl_meas
	regStatus  = 0xF3 // status
	regControl = 0xF4 // ctrl_meas
	regConfig  = 0xF5 // config; its upper three bits are a time of standby, which one-shot mode does not use
	regResult  = 0xF7 // press_msb, then temp_msb at 0xFA and hum_msb at 0xFD
)

const (
	resetWord = 0xB6 // section 5.4.2
	twice     = 0b010
	keepT     = twice << 5            // ctrl_meas: two samples of the temperature; sleep
	onceT     = keepT | 0b01          // one measurement, then sleep
	onceTP    = onceT | twice<<2      // and of the pressure
	skipped   = 0x80000               // what a quantity reads as that is not measured, or not yet
	busy      = 0x09                  // status: measuring, or copying the factory's numbers
	takes     = 17 * time.Millisecond // appendix 9.1: 1.25 + 2·2.3 + 2·2.3+0.575 + 2·2.3+0.575 ms at most
)

// What a chip answers that cannot be believed.
var (
	errTorn  = errors.New("the registers around the result do not hold what was written: the transfer broke off, or the settings are lost")
	errOnes  = errors.New("the result ends in ones, as one that broke off does")
	errEmpty = errors.New("nothing was measured: the settings are lost")
)

// Dev is one chip.
type Dev struct {
	*air.Air
	reg  *bus.Regs
	kind Kind
	trim trim
	mark uint8 // what config holds
	up   bool  // set up and not known to have failed since
}

// New returns the chip of a kind at addr. It does not touch the bus.
func New(b i2c.Bus, addr uint16, kind Kind) *Dev {
	d := &Dev{reg: bus.New(b, addr, [...]string{"bme280", "bmp280"}[kind], bus.Index8), kind: kind}
	d.Air = air.New(d, d.measure)
	return d
}

// String names the chip, its bus and its address.
func (d *Dev) String() string { return d.reg.String() }

// Halt does nothing: the chip sleeps between measurements.
func (d *Dev) Halt() error { return nil }

// measure returns one measurement. One that ends in ones, as every 256th of
// the humidity does, is made again.
func (d *Dev) measure(ctx context.Context) (m air.Measured, err error) {
	for range 3 {
		m.At = time.Now()
		d.up = d.up && d.reg.U8(regConfig) == d.mark
		d.mark = d.mark%0xE0 + 0x20
		d.setUp(ctx)
		raw := d.once(ctx)
		m.TempC, m.Percent = d.decode(raw)
		if err = d.reg.Take(); !errors.Is(err, errOnes) {
			break
		}
	}
	if d.up = err == nil; !d.up {
		return air.Measured{}, d.reg.Fail("measure", err)
	}
	return m, nil
}

// setUp brings the chip from any state to ours, if it is not there already,
// and reads the factory's numbers.
func (d *Dev) setUp(ctx context.Context) {
	if d.up {
		return
	}
	d.reg.Pause(ctx, 2*time.Millisecond) // It starts within 2 ms (table 1).
	if id, want := d.reg.U8(regID), d.id(); id != want {
		d.reg.Refuse(fmt.Errorf("%w: its number is 0x%02x, not 0x%02x", bus.ErrOther, id, want))
	}
	d.reg.Put8(regReset, resetWord)
	d.reg.Pause(ctx, 2*time.Millisecond)
	d.reg.WaitFor(ctx, "the start", time.Millisecond, 20*time.Millisecond, d.idle)
	if d.kind == BME280 {
		d.reg.Put8(regCtrlHum, twice)
	}
	d.reg.Put8(regConfig, d.mark)
	d.reg.Put8(regControl, keepT)
	d.readTrim()
}

// id is what the chip has in its register of that name.
func (d *Dev) id() uint8 { return [...]uint8{0x60, 0x58}[d.kind] }

// idle reports whether the chip does nothing, twice in a row.
func (d *Dev) idle() bool { return d.reg.Shows(regStatus, busy, 0) }

// once makes the two measurements and returns the registers from ctrl_meas on
// behind the second one.
func (d *Dev) once(ctx context.Context) []byte {
	d.reg.Put8(regConfig, d.mark)
	d.run(ctx, onceTP)
	if p := d.reg.Sure(regResult, 3); number(p) == skipped {
		d.reg.Refuse(bus.ErrStale)
	}
	d.run(ctx, onceT)
	n := 2 + 1 + 3 + 3
	if d.kind == BME280 {
		n += 2
	}
	return d.reg.Sure(regControl, n)
}

// run starts a measurement and waits for its end.
func (d *Dev) run(ctx context.Context, how uint8) {
	d.reg.Put8(regControl, how)
	d.reg.Pause(ctx, takes)
	d.reg.WaitFor(ctx, "a result", 2*time.Millisecond, 100*time.Millisecond, d.idle)
}

// number decodes 20 bits in three bytes.
func number(b []byte) int { return int(b[0])<<12 | int(b[1])<<4 | int(b[2])>>4 }

// decode turns the registers from ctrl_meas on into degrees and percent, and
// refuses what cannot be a result.
func (d *Dev) decode(b []byte) (tempC, percent float64) {
	result := b[regResult-regControl:]
	t, damp := number(result[3:]), 0
	if d.kind == BME280 {
		damp = int(result[6])<<8 | int(result[7])
	}
	switch {
	case b[0] != keepT || b[1] != d.mark || number(result) != skipped || (result[2]|result[5])&0x0F != 0:
		d.reg.Refuse(errTorn)
	case t == skipped || d.kind == BME280 && damp == skipped>>4:
		d.reg.Refuse(errEmpty)
	case damp&0xFF == 0xFF:
		d.reg.Refuse(errOnes)
	}
	tempC, fine := d.trim.temperature(t)
	if tempC < -40 || tempC > 85 {
		d.reg.Refuse(fmt.Errorf("%.1f °C lies outside -40 to 85", tempC))
	}
	return tempC, d.trim.humidity(damp, fine)
}
