// Package ads1115test is an ADS1115 made of software: a pointer register that
// does not count up, conversions one by one or in a row that take their time,
// and settings that a reset brings back. It is made from the data sheet, not from a chip.
package ads1115test

import (
	"math"
	"sync"
	"time"

	"leavend/sensor/bus/bustest"
)

// Chip is an emulated ADS1115.
type Chip struct {
	*bustest.Core
	mu    sync.Mutex // guards volts
	volts [4]float64
	c     *converter
}

// converter is the register part, in the form of a memory of four words.
type converter struct {
	pointer    byte
	config     uint16
	conversion uint16
	doneAt     time.Time
	running    bool
}

// New returns a chip at addr with the given volts on its inputs.
func New(addr uint16, volts [4]float64) *Chip {
	c := &Chip{volts: volts, c: &converter{}}
	mem := &bustest.Memory{Bytes: make([]byte, 8)}
	mem.Whole = func(w, r []byte) { c.transfer(w, r) }
	c.Core = bustest.NewCore(addr, 50*time.Microsecond, mem, func(*bustest.Memory) { *c.c = converter{config: 0x8583} })
	return c
}

// Apply sets the volts on an input.
func (c *Chip) Apply(input int, volts float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.volts[input] = volts
}

// transfer writes the pointer and, with two more bytes, a register; then it
// reads the register that the pointer names.
func (c *Chip) transfer(w, r []byte) {
	v := c.c
	if len(w) > 0 {
		v.pointer = w[0] & 3
	}
	if len(w) >= 3 && v.pointer == 1 {
		c.configure(uint16(w[1])<<8 | uint16(w[2]))
	}
	if v.running && !time.Now().Before(v.doneAt) {
		v.running = v.config&0x0100 == 0 // in a row
		v.conversion = c.convert(v.config)
	}
	word := [4]uint16{v.conversion, v.config &^ 0x8000, 0x8000, 0x7FFF}[v.pointer]
	if v.pointer == 1 && !v.running {
		word |= 0x8000
	}
	for i := range r {
		r[i] = byte(word >> (8 * (1 - i&1)))
	}
}

// configure takes a configuration and starts a conversion if it says so.
func (c *Chip) configure(config uint16) {
	c.c.config = config
	if config&0x8000 != 0 || config&0x0100 == 0 {
		rates := [8]int{8, 16, 32, 64, 128, 250, 475, 860}
		c.c.running = true
		c.c.doneAt = time.Now().Add(time.Second / time.Duration(rates[config>>5&7]))
	}
}

// convert returns the code of the chosen input, cut at the ends of the scale.
func (c *Chip) convert(config uint16) uint16 {
	c.mu.Lock()
	defer c.mu.Unlock()
	full := [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}[config>>9&7]
	// Data sheet, "MUX[2:0]": four differences, then four inputs against ground.
	v := c.volts
	volts := [8]float64{v[0] - v[1], v[0] - v[3], v[1] - v[3], v[2] - v[3], v[0], v[1], v[2], v[3]}[config>>12&7]
	code := math.Round(volts / full * 32768)
	return uint16(int16(max(-32768, min(32767, code))))
}
