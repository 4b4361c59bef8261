// Package shttest is an SHT3x or SHT4x made of software: it takes commands,
// does not acknowledge a read before its measurement is done, and sends
// checksummed words. It is made from the data sheets, not from a chip.
package shttest

import (
	"math"
	"sync"
	"time"

	"leavend/sensor/bus/bustest"
)

// Chip is an emulated SHT3x, or SHT4x.
type Chip struct {
	mu      sync.Mutex // guards what follows
	four    bool
	addr    uint16
	tempC   float64
	percent float64
	n       int
	doneAt  time.Time
	status  uint16
	reply   []byte  // what waits to be read, a part of room
	room    [6]byte // two words and their checksums
}

// New returns a chip at addr in air of the given kind; four makes it an SHT4x.
func New(four bool, addr uint16, tempC, percent float64) *Chip {
	return &Chip{four: four, addr: addr, tempC: tempC, percent: percent, status: 0x8010}
}

// Air sets what the chip measures from now on.
func (c *Chip) Air(tempC, percent float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tempC, c.percent = tempC, percent
}

// Addr returns the address.
func (c *Chip) Addr() uint16 { return c.addr }

// Tx does a transfer.
func (c *Chip) Tx(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 {
		if !c.command(w) {
			return bustest.NoAck()
		}
	}
	if len(r) == 0 {
		return nil
	}
	if len(c.reply) == 0 || time.Now().Before(c.doneAt) {
		return bustest.NoAck() // Nothing to send: the read header is not acknowledged.
	}
	for i := range r {
		r[i] = 0xFF // Behind the last byte the line is released.
	}
	copy(r, c.reply)
	c.reply = nil
	return nil
}

// command starts what a command says and reports whether it is known.
func (c *Chip) command(w []byte) bool {
	after := func(d time.Duration, words ...uint16) bool {
		c.doneAt, c.reply = time.Now().Add(d), c.room[:0]
		for _, v := range words {
			c.reply = append(c.reply, byte(v>>8), byte(v), Checksum(byte(v>>8), byte(v)))
		}
		return true
	}
	code := int(w[0])
	if !c.four && len(w) == 2 {
		code = code<<8 | int(w[1])
	}
	switch {
	case c.four && code == 0xFD:
		return after(8300*time.Microsecond, c.temp(), c.humidity(125, -6))
	case c.four && code == 0x89:
		return after(time.Millisecond, 0x0F1E, 0x2D3C)
	case c.four && code == 0x94:
		return after(time.Millisecond)
	case !c.four && code == 0x2400:
		return after(15*time.Millisecond, c.temp(), c.humidity(100, 0))
	case !c.four && code == 0x240B: // less repeatable
		return after(6*time.Millisecond, c.temp(), c.humidity(100, 0))
	case !c.four && code == 0x2416: // least
		return after(4*time.Millisecond, c.temp(), c.humidity(100, 0))
	case !c.four && code == 0xF32D:
		return after(0, c.status)
	case !c.four && code == 0x3041: // clear the status
		c.status = 0
		return after(0)
	case !c.four && limits[code] != 0:
		return after(0, limits[code])
	case !c.four && code == 0x30A2:
		return after(1500 * time.Microsecond)
	}
	return false
}

// limits are those of the alert as the factory leaves them, by the commands that
// read them (Sensirion's note on the alert mode of the SHT3x).
var limits = map[int]uint16{0xE11F: 0xCD33, 0xE114: 0xC92D, 0xE109: 0x3869, 0xE102: 0x3466}

// temp returns the raw temperature, with the least of the noise that a real
// chip has: every second measurement is one step higher.
func (c *Chip) temp() uint16 {
	c.n++
	return uint16(math.Round((c.tempC+45)/175*65535)) + uint16(c.n&1)
}

func (c *Chip) humidity(scale, from float64) uint16 {
	return uint16(math.Round((c.percent - from) / scale * 65535))
}

// Checksum is Sensirion's, of two bytes, worked out by long division.
func Checksum(hi, lo byte) byte {
	v := (uint32(hi)<<8 | uint32(lo)) ^ 0xFFFF>>8<<8
	v <<= 8
	for bit := 23; bit >= 8; bit-- {
		if v>>bit&1 == 1 {
			v ^= 0x131 << (bit - 8)
		}
	}
	return byte(v)
}
