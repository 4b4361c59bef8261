// Package vl53l0xtest is a VL53L0X made of software, register by register: it
// turns pages, gives the factory's values from its memory, runs its reference
// calibrations, ranges for as long as its timeouts say, and forgets everything
// in a reset. It is made from ST's published driver, not from a chip.
package vl53l0xtest

import (
	"math"
	"math/bits"
	"time"

	"leavend/sensor/bus/bustest"
)

// Sample is what the chip sees.
type Sample struct {
	DistanceMM float64
	SignalMcps float64
	Device     uint8 // device status, four bits; 11 is a complete range
}

// What the factory wrote into this chip.
const (
	Stop      = 0x3C // register 0x91 on page 1
	SpadCount = 5    // of the reference
	Aperture  = true
)

// Cells is how many receivers the chip finds fit to look; ST's driver speaks of
// 220 over grey at 400 mm.
const Cells = 220

// Chip is an emulated VL53L0X.
type Chip struct {
	*bustest.Core
	pages   map[byte][]byte
	see     Sample
	n       byte
	doneAt  time.Time
	running bool

	startSeen bool // bit 0 of the start register was read since it was set
	dead      bool
	glass     bustest.Glass
	sticky    int // more times that the interrupt stays although it is cleared
}

// New returns a chip that has just got its supply and sees a surface.
func New(see Sample) *Chip {
	c := &Chip{see: see}
	mem := &bustest.Memory{Bytes: make([]byte, 256)}
	mem.OnWrite = func(reg uint16, v byte) { c.wrote(mem, byte(reg), v) }
	mem.OnRead = func(reg uint16) { c.reading(mem, byte(reg)) }
	c.Core = bustest.NewCore(0x29, 1200*time.Microsecond, mem, c.fill)
	return c
}

// fill lays down the power-on state of all pages, and opens page 0.
func (c *Chip) fill(m *bustest.Memory) {
	c.running = false
	c.pages = map[byte][]byte{}
	for _, p := range []byte{0, 1, 6, 7} {
		c.pages[p] = make([]byte, 256)
	}
	m.Bytes = c.pages[0]
	copy(m.Bytes[0xC0:], []byte{0xEE, 0xAA, 0x10})
	copy(m.Bytes[0xB0:], good[:])
	c.pages[1][0x91] = Stop
}

// good is the map of the reference's cells that are fit: number 11 is not.
var good = [6]byte{0xFF, 0xF7, 0xFF, 0xFF, 0xFF, 0x0F}

// memory returns four bytes of what the factory wrote down, by their place
// (VL53L0X_get_info_from_device): count and kind of the reference's cells, and
// their map.
func memory(place byte) []byte {
	switch place {
	case 0x6B:
		count := byte(SpadCount)
		if Aperture {
			count |= 0x80
		}
		return []byte{0, 0, count, 0}
	case 0x24:
		return good[:4]
	case 0x25:
		return []byte{good[4], good[5], 0, 0}
	}
	return make([]byte, 4)
}

// See sets what the chip sees from now on.
func (c *Chip) See(s Sample) { c.Do(func(*bustest.Memory) { c.see = s }) }

// Cover lays a glass over the chip that throws back this much light, in
// thousand counts a second and cell; 0 takes it away.
func (c *Chip) Cover(kcps float64) {
	c.Do(func(*bustest.Memory) { c.glass.Mcps = kcps / 1000 * Cells })
}

// Stall makes measurements start and never end.
func (c *Chip) Stall(dead bool) { c.Do(func(*bustest.Memory) { c.dead = dead }) }

// Sticky makes the interrupt outlast the next n attempts to clear it.
func (c *Chip) Sticky(n int) { c.Do(func(*bustest.Memory) { c.sticky = n }) }

// Page returns one page of registers, to look at.
func (c *Chip) Page(n byte) (page []byte) {
	c.Do(func(*bustest.Memory) { page = append(page, c.pages[n]...) })
	return page
}

// wrote acts on the registers that do something.
func (c *Chip) wrote(m *bustest.Memory, reg, v byte) {
	page := c.page(m)
	switch {
	case reg == 0xFF:
		if next, ok := c.pages[v]; ok {
			m.Bytes = next
		}
	case page == 7 && reg == 0x83 && v == 0: // the strobe that fetches from the memory
		copy(m.Bytes[0x90:0x94], memory(m.Bytes[0x94]))
		m.Bytes[0x83] = 0x10
	case page == 0 && reg == 0xBF && v == 0: // held in reset
		c.fill(m)
		clear(m.Bytes[0xC0:0xC3])
	case page == 0 && reg == 0xBF && v == 1:
		c.fill(m)
	case page == 0 && reg == 0x8A:
		c.Move(uint16(v & 0x7F))
	case page == 0 && reg == 0x0B:
		if v&1 == 1 && c.sticky > 0 {
			c.sticky--
		} else if v&1 == 1 {
			m.Bytes[0x13] &^= 0x07
			m.Bytes[0x14] &^= 1 // no result waits
		}
	case page == 0 && (reg == 0x0C || reg == 0x0E):
		m.Bytes[reg] &= 0x0F // a threshold has 12 bits
	case page == 0 && reg == 0x00 && v&1 == 1:
		c.running, c.startSeen = true, false
		m.Bytes[0x14] &^= 1 // busy
		c.doneAt = time.Now().Add(c.duration(m))
	}
}

// page returns the number of the open page.
func (c *Chip) page(m *bustest.Memory) byte {
	for n, p := range c.pages {
		if &p[0] == &m.Bytes[0] {
			return n
		}
	}
	return 0xFF
}

// duration is how long the step that was started takes: some milliseconds for
// a reference calibration, the sum of the timeouts for a range.
func (c *Chip) duration(m *bustest.Memory) time.Duration {
	if m.Bytes[0x01] < 0x10 {
		return 5 * time.Millisecond
	}
	// (low << high) + 1 macro periods; the pre-range takes 151 of them.
	mclks := int(m.Bytes[0x72])<<m.Bytes[0x71] + 1 - 151
	return 17579*time.Microsecond + time.Duration(mclks)*38131*time.Nanosecond
}

// reading brings the registers up to date before they are read.
func (c *Chip) reading(m *bustest.Memory, reg byte) {
	// Bit 0 of the start register goes out when the chip has begun.
	if c.page(m) == 0 && reg == 0x00 && c.running {
		if c.startSeen {
			m.Bytes[0x00] &^= 1
		}
		c.startSeen = true
	}
	if c.running && !c.dead && !time.Now().Before(c.doneAt) && c.pages[1][0x91] == Stop {
		c.running = false
		c.finish(c.pages[0])
	}
}

// finish lays a result down. Ambient light, which no driver reads, differs from
// measurement to measurement as it does in a kitchen.
func (c *Chip) finish(p []byte) {
	c.n++
	put := func(reg int, v uint16) { p[reg], p[reg+1] = byte(v>>8), byte(v) }
	p[0x13] = p[0x13]&^0x07 | 0x04
	p[0x00] &^= 1
	p[0x14] = c.see.Device<<3 | 1                                 // bit 0: ready
	taken := float64(int(p[0x20])<<8|int(p[0x21])) / 8192 * Cells // 3.13 fixed point, million counts a second and cell
	mm, light := c.glass.Through(c.see.DistanceMM, c.see.SignalMcps, taken)
	if mm == 0 && light == 0 {
		p[0x14] = 4<<3 | 1 // too little light comes back
	}
	if p[0x01] == 0xC0 { // the light of the reference, 3 million counts for each of its cells
		cells := 0
		for _, b := range p[0xB0:0xB6] {
			cells += bits.OnesCount8(b)
		}
		light := uint16(cells * 3 * 128)
		c.pages[1][0xB6], c.pages[1][0xB7] = byte(light>>8), byte(light)
	}
	put(0x16, Cells<<8)
	put(0x1A, uint16(math.Round(light*128)))
	put(0x1C, uint16(c.n))
	put(0x1E, uint16(mm))
}
