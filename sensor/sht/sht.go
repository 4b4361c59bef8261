// Package sht drives Sensirion's SHT3x and SHT4x, which measure temperature
// and relative humidity: the room's, or that of a proofing box.
//
// Both answer commands with checksummed words and keep no settings, so there
// is nothing to lose in a reset. A checksum of eight bits lets one garbled word
// in 256 pass. Each reading is therefore the mean of two measurements that
// agree, and that are not the same to the bit: their noise is some ten steps of
// the scale, so bits that stand still come from a bus that does.
//
// Limits: -40 to 125 °C, ±0.2 °C and ±2 % for the better kinds. Condensing dew
// reads as 100 %.
//
// Data sheets: Sensirion SHT3x-DIS version 7 (commands: tables 9 and 17;
// conversion: section 4.13; checksum: table 20), SHT4x version 6.
package sht

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
	"leavend/sensor/internal/air"
)

// Addr is the usual address of either kind. An SHT3x with its pin high answers
// at 0x45; SHT4x are sold for 0x44, 0x45 and 0x46.
const Addr = 0x44

// Kind is a family of chips.
type Kind uint8

// The families this driver knows.
const (
	SHT3x Kind = iota
	SHT4x
)

// family holds what the two kinds do differently.
type family struct {
	name    string
	reset   []byte        // soft reset
	measure []byte        // one measurement, highest repeatability, no clock stretching
	takes   time.Duration // longest time of it
	rhScale float64       // percent over the whole scale
	rhFrom  float64       // percent at zero
}

// families returns the differences of the kinds: SHT3x-DIS tables 4, 9 and 14;
// SHT4x tables 4 and 7.
func families(k Kind) family {
	if k == SHT4x {
		return family{"sht4x", []byte{0x94}, []byte{0xFD}, 9 * time.Millisecond, 125, -6}
	}
	return family{"sht3x", []byte{0x30, 0xA2}, []byte{0x24, 0x00}, 16 * time.Millisecond, 100, 0}
}

// ErrChecksum says that a word came garbled.
var ErrChecksum = errors.New("a checksum is wrong: noise on the bus")

// Dev is one chip.
type Dev struct {
	*air.Air
	reg    *bus.Regs
	family family
	raw    [2][6]byte
	up     bool
}

// New returns the chip of a kind at addr. It does not touch the bus.
func New(b i2c.Bus, addr uint16, kind Kind) *Dev {
	f := families(kind)
	d := &Dev{reg: bus.New(b, addr, f.name, bus.Index8), family: f}
	d.Air = air.New(d, d.measure)
	return d
}

// String names the chip, its bus and its address.
func (d *Dev) String() string { return d.reg.String() }

// Halt does nothing: the chip idles between measurements.
func (d *Dev) Halt() error { return nil }

// measure takes two measurements and keeps their mean.
func (d *Dev) measure(ctx context.Context) (air.Measured, error) {
	if !d.up {
		d.reg.Tx(d.family.reset, nil)
		d.reg.Pause(ctx, 2*time.Millisecond) // SHT3x: 1.5 ms, SHT4x: 1 ms at most
	}
	at := time.Now()
	var t, rh [2]float64
	for i := range d.raw {
		d.reg.Tx(d.family.measure, nil)
		d.reg.Pause(ctx, d.family.takes)
		d.reg.Tx(nil, d.raw[i][:])
		t[i], rh[i] = d.decode(d.raw[i])
	}
	if d.raw[0] == d.raw[1] {
		d.reg.Refuse(bus.ErrStale)
	}
	// Air does not change so fast: 0.5 °C and 5 % within some ten milliseconds.
	if math.Abs(t[0]-t[1]) > 0.5 || math.Abs(rh[0]-rh[1]) > 5 {
		d.reg.Refuse(fmt.Errorf("%w: %.2f °C, then %.2f", bus.ErrNoise, t[0], t[1]))
	}
	err := d.reg.Take()
	if d.up = err == nil; !d.up {
		return air.Measured{}, d.reg.Fail("measure", err)
	}
	return air.Measured{At: at, TempC: (t[0] + t[1]) / 2, Percent: min(100, max(0, (rh[0]+rh[1])/2))}, nil
}

// decode turns six bytes into degrees and percent. Humidity may come out a
// little below zero or above a hundred; the data sheet says to cut it.
func (d *Dev) decode(b [6]byte) (tempC, percent float64) {
	if CRC(b[0:2]) != b[2] || CRC(b[3:5]) != b[5] {
		d.reg.Refuse(ErrChecksum)
		return 0, 0
	}
	tempC = -45 + 175*float64(uint16(b[0])<<8|uint16(b[1]))/65535
	percent = d.family.rhFrom + d.family.rhScale*float64(uint16(b[3])<<8|uint16(b[4]))/65535
	if tempC < -40 || tempC > 125 {
		d.reg.Refuse(fmt.Errorf("%.1f °C lies outside -40 to 125", tempC))
	}
	return tempC, percent
}

// CRC is Sensirion's checksum: polynomial 0x31, start 0xFF, no reflection.
func CRC(b []byte) byte {
	crc := byte(0xFF)
	for _, v := range b {
		crc ^= v
		for range 8 {
			if crc&0x80 != 0 {
				crc = crc<<1 ^ 0x31
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}
