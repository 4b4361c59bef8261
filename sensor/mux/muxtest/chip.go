// Package muxtest is a TCA9548A made of software. It is made from the data
// sheet, not from a chip.
package muxtest

import (
	"sync"

	"leavend/sensor/bus/bustest"
)

// Chip is an emulated TCA9548A with eight buses behind it.
type Chip struct {
	mu      sync.Mutex // guards control
	addr    uint16
	control byte
	behind  [8]*bustest.Bus
}

// New returns a switch at addr that is closed.
func New(addr uint16) *Chip {
	c := &Chip{addr: addr}
	for i := range c.behind {
		c.behind[i] = bustest.New("behind")
	}
	return c
}

// Behind returns one of the buses behind the switch.
func (c *Chip) Behind(channel int) *bustest.Bus { return c.behind[channel] }

// Reset closes all channels, as a dip of the supply or the reset pin does.
func (c *Chip) Reset() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.control = 0
}

// Addr returns the switch's own address.
func (c *Chip) Addr() uint16 { return c.addr }

// Tx writes or reads the control register. Of several bytes the last counts.
func (c *Chip) Tx(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 {
		c.control = w[len(w)-1]
	}
	for i := range r {
		r[i] = c.control
	}
	return nil
}

// open returns the buses whose channels are open.
func (c *Chip) open() (buses []*bustest.Bus) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, b := range c.behind {
		if c.control>>i&1 == 1 {
			buses = append(buses, b)
		}
	}
	return buses
}

// Board returns a bus on which the switches sit, and which passes transfers to
// other addresses on to the open channels. When chips answer on several of
// them, the bytes are ANDed.
func Board(name string, chips ...*Chip) *bustest.Bus {
	b := bustest.New(name)
	for _, c := range chips {
		b.Attach(c)
	}
	b.Behind(func() (open []*bustest.Bus) {
		for _, c := range chips {
			open = append(open, c.open()...)
		}
		return open
	})
	return b
}
