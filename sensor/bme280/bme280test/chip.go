// Package bme280test is a BME280 or BMP280 made of software, register by
// register: it starts, holds the factory's numbers, measures once or again and
// again when told to and for as long as its settings say, says that it is busy,
// and forgets its settings in a reset. It is made from the data sheets, not from a chip.
package bme280test

import (
	"time"

	"leavend/sensor/bus/bustest"
)

// The factory's numbers: those of the temperature are of the worked example in
// the BMP280's data sheet, section 3.12, as are those of the pressure; those of
// the humidity are invented.
const (
	T1, T2, T3             = 27504, 26435, -1000
	P1, P2, P3, P4, P5     = 36477, -10685, 3024, 2855, 140
	P6, P7, P8, P9         = -7, 15500, -14600, 6000
	H1, H2, H3, H4, H5, H6 = 75, 362, 0, 325, 50, 30
)

// Chip is an emulated chip.
type Chip struct {
	*bustest.Core
	damp    bool
	temp    int // raw
	hum     int
	n       int
	doneAt  time.Time
	running bool
	dead    bool
}

// New returns a chip that has just got its supply; damp makes it a BME280.
func New(damp bool) *Chip {
	c := &Chip{damp: damp, temp: 519888, hum: 0x6A00}
	mem := &bustest.Memory{Bytes: make([]byte, 256)}
	mem.OnWrite = func(reg uint16, v byte) { c.wrote(mem, byte(reg), v) }
	mem.OnRead = func(uint16) { c.reading(mem) }
	c.Core = bustest.NewCore(0x76, 2*time.Millisecond, mem, c.fill)
	return c
}

// fill lays down the power-on state.
func (c *Chip) fill(m *bustest.Memory) {
	c.running = false
	for i, v := range []int{T1, T2, T3, P1, P2, P3, P4, P5, P6, P7, P8, P9} {
		m.Bytes[0x88+2*i], m.Bytes[0x89+2*i] = byte(v), byte(v>>8)
	}
	m.Bytes[0xD0] = 0x58
	copy(m.Bytes[0xF7:], []byte{0x80, 0, 0, 0x80, 0, 0})
	if c.damp {
		m.Bytes[0xD0], m.Bytes[0xA1] = 0x60, H1
		copy(m.Bytes[0xE1:], []byte{H2 & 0xFF, H2 >> 8, H3, H4 >> 4, H4&0x0F | H5&0x0F<<4, H5 >> 4, H6})
		m.Bytes[0xFD] = 0x80
	}
}

// Air sets the raw numbers that the chip measures from now on, of 20 and of 16
// bits.
func (c *Chip) Air(temp, hum int) { c.Do(func(*bustest.Memory) { c.temp, c.hum = temp, hum }) }

// Stall makes the chip take orders to measure and not carry them out.
func (c *Chip) Stall(dead bool) { c.Do(func(*bustest.Memory) { c.dead = dead }) }

// wrote acts on the registers that do something, and undoes what was written
// to those that cannot be.
func (c *Chip) wrote(m *bustest.Memory, reg, v byte) {
	switch {
	case reg == 0xE0 && v == 0xB6:
		clear(m.Bytes)
		c.fill(m)
	case reg == 0xF4 && v&3 != 0 && !c.dead:
		c.running = true
		c.doneAt = time.Now().Add(c.takes(m))
	case reg == 0xF2 && !c.damp || reg == 0xE0:
		m.Bytes[reg] = 0
	}
	if c.running {
		m.Bytes[0xF3] |= 0x08
	}
}

// samples is how often a quantity is measured, by three bits of a register.
func samples(bits byte) int { return []int{0, 1, 2, 4, 8, 16, 16, 16}[bits&7] }

// takes is how long a measurement takes at most (BME280 data sheet, 9.1).
func (c *Chip) takes(m *bustest.Memory) time.Duration {
	us := 1250 + 2300*samples(m.Bytes[0xF4]>>5)
	if p := samples(m.Bytes[0xF4] >> 2); p > 0 {
		us += 2300*p + 575
	}
	if h := samples(m.Bytes[0xF2]); h > 0 {
		us += 2300*h + 575
	}
	return time.Duration(us) * time.Microsecond
}

// reading brings the registers up to date before they are read. The lowest bits
// of each number flicker.
func (c *Chip) reading(m *bustest.Memory) {
	if !c.running || time.Now().Before(c.doneAt) {
		return
	}
	c.running = false
	c.n++
	if m.Bytes[0xF4]&3 == 3 { // normal mode goes on, after its time of standby
		c.running = true
		standby := [8]time.Duration{500, 62_500, 125_000, 250_000, 500_000, 1_000_000, 10_000, 20_000}[m.Bytes[0xF5]>>5]
		c.doneAt = time.Now().Add(c.takes(m) + standby*time.Microsecond)
	}
	put := func(reg, v int, on bool) {
		if !on {
			v = 0x80000
		}
		m.Bytes[reg], m.Bytes[reg+1], m.Bytes[reg+2] = byte(v>>12), byte(v>>4), byte(v<<4)
	}
	put(0xF7, 415148, m.Bytes[0xF4]>>2&7 != 0)
	put(0xFA, c.temp+c.n%3, m.Bytes[0xF4]>>5 != 0)
	if c.damp {
		hum := c.hum + c.n%3
		if m.Bytes[0xF2]&7 == 0 {
			hum = 0x8000
		}
		m.Bytes[0xFD], m.Bytes[0xFE] = byte(hum>>8), byte(hum)
	}
	m.Bytes[0xF3] &^= 0x08
	if !c.running {
		m.Bytes[0xF4] &^= 3
	}
}
