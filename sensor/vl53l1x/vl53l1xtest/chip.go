// Package vl53l1xtest is a VL53L1X or a VL53L4CD made of software, register by
// register: it boots, ranges for as long as its settings say, tells when a
// result waits, moves to another address, and forgets everything in a reset.
// Its readings fall short by what its factory wrote down. It is made from the
// data sheets and ST's published drivers, not from a chip.
package vl53l1xtest

import (
	"math"
	"time"

	"leavend/sensor/bus/bustest"
)

// Sample is what the chip sees.
type Sample struct {
	DistanceMM float64
	SigmaMM    float64
	SignalMcps float64
	Raw        uint8 // raw range status; 9 is valid
}

// What is so of this chip.
const (
	Cells  = 16  // receivers that the chip finds fit to look
	Short  = 18  // mm by which it reads short, which its factory found
	Centre = 183 // cell on the optical axis, which the factory found
)

// Chip is an emulated VL53L1X.
type Chip struct {
	*bustest.Core
	model   uint16
	factory uint16  // offset that the factory wrote down, mm
	shortMM float64 // by which it reads short in truth
	see     func(n int) Sample
	n       int
	doneAt  time.Time
	running bool
	waiting bool // a result waits
	count   byte // measurements in this row
	glass   bustest.Glass
	dead    bool // measures for ever
}

// New returns a VL53L1X that has just got its supply and sees a surface.
func New(see Sample) *Chip { return newChip(see, 0xEACC, Short) }

// NewL4CD returns a VL53L4CD, which reads right by itself.
func NewL4CD(see Sample) *Chip { return newChip(see, 0xEBAA, 0) }

func newChip(see Sample, model uint16, shortMM float64) *Chip {
	c := &Chip{see: func(int) Sample { return see }, model: model, factory: uint16(shortMM), shortMM: shortMM}
	mem := &bustest.Memory{Wide: true, Bytes: make([]byte, 0x200)}
	mem.OnWrite = func(reg uint16, v byte) { c.wrote(mem, reg, v) }
	mem.OnRead = func(reg uint16) { c.reading(mem, reg) }
	c.Core = bustest.NewCore(0x29, 1200*time.Microsecond, mem, c.fill)
	return c
}

// fill lays down the power-on state. The clocks are those that users print.
func (c *Chip) fill(m *bustest.Memory) {
	c.running, c.waiting, c.count = false, false, 0
	m.Bytes[0x0001] = 0x29
	m.Put16(0x0006, 0xBCCC) // the fast clock, 4.12 fixed point, 11.8 MHz
	m.Put16(0x00DE, 0x0260) // periods of the slow clock in a millisecond
	m.Bytes[0x0030] = 0x11  // its interrupt is active low
	m.Bytes[0x0031] = 0x02  // fresh out of reset
	m.Bytes[0x00E5] = 0x03
	m.Put16(0x010F, c.model)
	m.Bytes[0x0111] = 0x10
	m.Bytes[0x013E] = Centre
	m.Put16(0x0022, c.factory)
}

// Offset makes the chip read short by other millimetres than its factory found.
func (c *Chip) Offset(shortMM float64) {
	c.Do(func(*bustest.Memory) { c.shortMM = shortMM })
}

// Factory sets the offset that the factory wrote down, from the next reset on.
func (c *Chip) Factory(mm int16) { c.Do(func(*bustest.Memory) { c.factory = uint16(mm) }) }

// See sets what the chip sees from now on.
func (c *Chip) See(s Sample) { c.Script(func(int) Sample { return s }) }

// Script sets a function that says what measurement n sees, from 0.
func (c *Chip) Script(f func(n int) Sample) {
	c.Do(func(*bustest.Memory) { c.see, c.n = f, 0 })
}

// Cover lays a glass over the chip that throws back this much light, in
// thousand counts a second and cell; 0 takes it away.
func (c *Chip) Cover(kcps float64) {
	c.Do(func(*bustest.Memory) { c.glass.Mcps = kcps / 1000 * Cells })
}

// Stall makes measurements start and never end.
func (c *Chip) Stall(dead bool) { c.Do(func(*bustest.Memory) { c.dead = dead }) }

// wrote acts on the registers that do something.
func (c *Chip) wrote(m *bustest.Memory, reg uint16, v byte) {
	switch reg {
	case 0x0000:
		if v == 0 {
			clear(m.Bytes)
			c.fill(m)
			m.Bytes[0x00E5] = 0 // held in reset
		} else {
			m.Bytes[0x00E5] = 0x03
		}
	case 0x0001:
		c.Move(uint16(v & 0x7F))
	case 0x0086:
		if v&1 == 1 {
			c.waiting = false
		}
	case 0x0087:
		c.running, c.count = v == 0x10 || v == 0x20 || v == 0x21 || v == 0x40, 0
		c.doneAt = time.Now().Add(c.budget(m))
	}
}

// reading brings the registers up to date before they are read.
func (c *Chip) reading(m *bustest.Memory, reg uint16) {
	if c.running && !c.dead && !time.Now().Before(c.doneAt) {
		c.finish(m)
	}
	if reg == 0x0031 {
		// Bit 4 of 0x30 clear: the line is high while a result waits. The chip
		// is fresh out of reset, bit 1, until it has measured.
		level := c.waiting != (m.Bytes[0x30]&0x10 != 0)
		m.Bytes[0x31] = m.Bytes[0x31]&^1 | bit(level)
	}
}

// finish lays a result down and, in continuous mode, starts over.
func (c *Chip) finish(m *bustest.Memory) {
	s := c.see(c.n)
	c.n++
	m.Bytes[0x31] &^= 0x02
	m.Bytes[0x89] = s.Raw
	m.Bytes[0x8B] = c.count // stream count: it begins at 0 with each start, and goes from 255 to 128
	if c.count++; c.count == 0 {
		c.count = 128
	}
	taken := float64(m.U16(0x16)) / 512 / 1000 * Cells // 7.9 fixed point, thousand counts a second and cell
	mm, light := c.glass.Through(s.DistanceMM, s.SignalMcps, taken)
	if mm == 0 && light == 0 {
		m.Bytes[0x89] = 4 // too little light comes back
	}
	offset := float64(int16(m.U16(0x1E)<<3)>>3) / 4 // 13 bits, quarters of a millimetre
	m.Put16(0x8C, Cells<<8)
	m.Put16(0x8E, uint16(math.Round((s.SignalMcps+c.glass.Mcps)*128))) // with the light of the glass
	m.Put16(0x92, uint16(s.SigmaMM*4))
	m.Put16(0x94, uint16(c.n)) // the phase, which flickers
	m.Put16(0x96, uint16(max(0, mm-c.shortMM+offset)))
	m.Put16(0x98, uint16(math.Round(light*128)))
	c.waiting = true
	c.running = m.Bytes[0x87] != 0x10
	c.doneAt = time.Now().Add(max(c.budget(m), c.period(m)))
}

// budgets are the light times in milliseconds that the first timeout register
// of a VL53L1X stands for, in short and in long mode.
var budgets = map[uint16]int{
	0x0051: 20, 0x00D6: 33, 0x01AE: 50, 0x02E1: 100, 0x03E1: 200, 0x0591: 500,
	0x001E: 20, 0x0060: 33, 0x00AD: 50, 0x01CC: 100, 0x02D9: 200, 0x048F: 500,
}

// budget is how long a measurement takes: the light time, and some for itself.
func (c *Chip) budget(m *bustest.Memory) time.Duration {
	if c.model == 0xEACC {
		return time.Duration(max(budgets[m.U16(0x5E)], 1)+3) * time.Millisecond
	}
	// A period of the laser is 2304 times 16, or 12, of the fast clock's 64th part.
	clock := float64(m.U16(0x06)) / 4096 * 64e6
	periods := func(v uint16) float64 { return float64(int(v&0xFF)<<(v>>8) + 1) }
	seconds := 2304 * (16*periods(m.U16(0x5E)) + 12*periods(m.U16(0x61))) / clock
	return time.Duration(seconds*1e9) + 4300*time.Microsecond
}

// period is the time from one measurement of a row to the next.
func (c *Chip) period(m *bustest.Memory) time.Duration {
	ticks := uint64(m.U16(0x6C))<<16 | uint64(m.U16(0x6E))
	return time.Duration(ticks/uint64(m.U16(0xDE)&0x3FF)) * time.Millisecond
}

func bit(b bool) byte {
	if b {
		return 1
	}
	return 0
}
