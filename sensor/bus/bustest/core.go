package bustest

import (
	"sync"
	"time"
)

// Core is the part that all emulated chips with registers share: a supply, a
// boot time, an address that a reset brings back, and the register file.
type Core struct {
	mu      sync.Mutex // guards what follows, and the hooks of the memory
	mem     *Memory
	home    uint16
	addr    uint16
	boot    time.Duration
	off     bool
	readyAt time.Time // when the chip has booted
	fill    func(*Memory)
}

// NewCore returns a chip that has just been switched on. fill lays down the
// power-on values of the registers, which are zero before.
func NewCore(home uint16, boot time.Duration, mem *Memory, fill func(*Memory)) *Core {
	c := &Core{mem: mem, home: home, boot: boot, fill: fill}
	c.Reset()
	return c
}

// Addr returns the address, or 0 without a supply.
func (c *Core) Addr() uint16 {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.off {
		return 0
	}
	return c.addr
}

// Tx does a transfer. A chip that boots does not acknowledge.
func (c *Core) Tx(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.off || time.Now().Before(c.readyAt) {
		return NoAck()
	}
	c.mem.Tx(w, r)
	return nil
}

// Reset is a dip of the supply: all registers and the address are as after
// power-on, and the chip boots.
func (c *Core) Reset() { c.Do(func(*Memory) { c.reset() }) }

func (c *Core) reset() {
	clear(c.mem.Bytes)
	c.addr, c.readyAt = c.home, time.Now().Add(c.boot)
	c.fill(c.mem)
}

// Power switches the supply, or the shutdown pin. A chip that is switched on
// boots.
func (c *Core) Power(on bool) {
	c.Do(func(*Memory) {
		if on && c.off {
			c.reset()
		}
		c.off = !on
	})
}

// Do calls f with the registers, while no transfer runs.
func (c *Core) Do(f func(*Memory)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	f(c.mem)
}

// Move changes the address. It is for the hooks of a register file, which run
// inside a transfer.
func (c *Core) Move(addr uint16) { c.addr = addr }
