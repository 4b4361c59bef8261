// Package vl6180xtest is a VL6180X made of software, register by register: it
// boots, ranges, tells when a result waits, moves to another address, and
// forgets everything in a reset. It is made from the data sheet, not from a
// chip.
package vl6180xtest

import (
	"math"
	"time"

	"leavend/sensor/bus/bustest"
)

// Sample is what the chip sees.
type Sample struct {
	DistanceMM float64
	SignalMcps float64
	Code       uint8 // error code, four bits; 0 is valid
}

// Chip is an emulated VL6180X.
type Chip struct {
	*bustest.Core
	see     Sample
	n       uint16
	doneAt  time.Time
	running bool
	dead    bool
	glass   bustest.Glass
}

// New returns a chip that has just got its supply and sees a surface.
func New(see Sample) *Chip {
	c := &Chip{see: see}
	mem := &bustest.Memory{Wide: true, Bytes: make([]byte, 0x300)}
	mem.OnWrite = func(reg uint16, v byte) { c.wrote(mem, reg, v) }
	mem.OnRead = func(uint16) { c.reading(mem) }
	c.Core = bustest.NewCore(0x29, 1400*time.Microsecond, mem, c.fill)
	return c
}

// fill lays down the power-on state.
func (c *Chip) fill(m *bustest.Memory) {
	c.running = false
	m.Bytes[0x000] = 0xB4
	m.Bytes[0x016] = 0x01
	m.Bytes[0x01C] = 0x31
	m.Bytes[0x02C], m.Bytes[0x02D] = 0xA0, 0x11 // limit of ambient light, checks that run
	m.Bytes[0x02A] = 0x30                       // light of a white card at 400 mm, which the factory wrote down; invented
	m.Bytes[0x04D] = 0x01
	m.Bytes[0x212] = 0x29
}

// See sets what the chip sees from now on.
func (c *Chip) See(s Sample) { c.Do(func(*bustest.Memory) { c.see = s }) }

// Cover lays a glass over the chip that throws back this much light, in
// thousand counts a second; 0 takes it away.
func (c *Chip) Cover(kcps float64) {
	c.Do(func(*bustest.Memory) { c.glass.Mcps = kcps / 1000 })
}

// Stall makes measurements start and never end.
func (c *Chip) Stall(dead bool) { c.Do(func(*bustest.Memory) { c.dead = dead }) }

// wrote acts on the registers that do something.
func (c *Chip) wrote(m *bustest.Memory, reg uint16, v byte) {
	switch reg {
	case 0x015:
		if v&1 == 1 {
			m.Bytes[0x4F] &^= 0x07
		}
	case 0x018:
		if v&1 == 1 {
			m.Bytes[0x4D] &^= 1 // busy
			c.running = true
			// A bright target converges in about a quarter of the time allowed.
			c.doneAt = time.Now().Add(5*time.Millisecond + time.Duration(m.Bytes[0x1C])*time.Millisecond/4)
		}
	case 0x212:
		c.Move(uint16(v & 0x7F))
	}
}

// reading brings the registers up to date before they are read. The counts of
// light differ from measurement to measurement.
func (c *Chip) reading(m *bustest.Memory) {
	if !c.running || c.dead || time.Now().Before(c.doneAt) {
		return
	}
	c.running = false
	c.n++
	m.Bytes[0x4D] = c.see.Code<<4 | 1
	if m.Bytes[0x14]&0x07 == 4 {
		m.Bytes[0x4F] = m.Bytes[0x4F]&^0x07 | 4
	}
	mm, light := c.glass.Through(c.see.DistanceMM, c.see.SignalMcps, float64(m.U16(0x1E))/128) // 9.7 fixed point, million counts a second
	if mm == 0 && light == 0 {
		m.Bytes[0x4D] = 6<<4 | 1 // too little light comes back
	}
	m.Bytes[0x62] = byte(mm)
	m.Put16(0x66, uint16(math.Round(light*128)))
	m.Put16(0x6E, c.n)
}
