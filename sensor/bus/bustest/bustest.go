// Package bustest is an I²C bus made of software, for the register-level
// emulators of the chips and for tests of everything that talks to them. It
// fails the way real buses do, with the errors that the kernel gives.
package bustest

import (
	"fmt"
	"sync"
	"syscall"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// Chip is an emulated chip. Tx is one transfer, a write and then a read, each
// of which may be empty.
type Chip interface {
	// Addr returns the address it answers at now, or 0 while it is silent.
	Addr() uint16
	// Tx returns an error where the chip does not acknowledge.
	Tx(w, r []byte) error
}

// Bus is an emulated I²C bus. Its methods may be called from any goroutine.
type Bus struct {
	mu     sync.Mutex // guards what follows
	name   string
	chips  []Chip
	fault  func(addr uint16, w, r []byte) error
	after  func(addr uint16, w, r []byte)
	stuck  int           // clock pulses until SDA is free again
	count  int           // transfers
	behind func() []*Bus // buses that are connected to this one now
}

// New returns a bus with the given chips.
func New(name string, chips ...Chip) *Bus { return &Bus{name: name, chips: chips} }

// String returns the bus's name.
func (b *Bus) String() string { return b.name }

// SetSpeed accepts any speed.
func (b *Bus) SetSpeed(physic.Frequency) error { return nil }

// Attach adds a chip.
func (b *Bus) Attach(c Chip) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.chips = append(b.chips, c)
}

// Count returns the number of transfers so far.
func (b *Bus) Count() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.count
}

// NoAck is what the kernel says, through periph, where no device acknowledges.
func NoAck() error { return fmt.Errorf("sysfs-i2c: %v", syscall.EREMOTEIO) }

// TimedOut is what it says when a line does not rise.
func TimedOut() error { return fmt.Errorf("sysfs-i2c: %v", syscall.ETIMEDOUT) }

// Fault sets a function that is asked before each transfer; its error ends
// the transfer. nil ends the fault.
func (b *Bus) Fault(f func(addr uint16, w, r []byte) error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fault = f
}

// Corrupt sets a function that may change what was read. nil ends the fault.
func (b *Bus) Corrupt(f func(addr uint16, w, r []byte)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.after = f
}

// Behind sets a function that names the buses which switches connect to this
// one at the moment.
func (b *Bus) Behind(f func() []*Bus) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.behind = f
}

// Tx does one transfer. When several chips answer at one address, the bus
// carries the AND of what they say, for each of them can only pull low.
func (b *Bus) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.count++
	if b.stuck > 0 {
		return TimedOut()
	}
	if b.fault != nil {
		if err := b.fault(addr, w, r); err != nil {
			return err
		}
	}
	if err := b.talk(addr, w, r); err != nil {
		return err
	}
	if b.after != nil {
		b.after(addr, w, r)
	}
	return nil
}

// talk lets every chip at the address take part.
func (b *Bus) talk(addr uint16, w, r []byte) error {
	var heard [][]byte
	for _, c := range b.chips {
		if c.Addr() != addr || addr == 0 {
			continue
		}
		own := r
		if len(heard) > 0 {
			own = make([]byte, len(r))
		}
		if err := c.Tx(w, own); err != nil {
			continue
		}
		heard = append(heard, own)
	}
	if b.behind != nil {
		for _, other := range b.behind() {
			own := make([]byte, len(r))
			err := other.Tx(addr, w, own)
			switch {
			case err == nil:
				heard = append(heard, own)
			case err.Error() == TimedOut().Error():
				return err // A stuck bus holds the lines of all that are connected.
			}
		}
	}
	if len(heard) == 0 {
		return NoAck()
	}
	copy(r, heard[0])
	for _, own := range heard[1:] {
		for i := range r {
			r[i] &= own[i]
		}
	}
	return nil
}

var _ i2c.Bus = (*Bus)(nil)

// Stick makes a chip hold SDA low until it has seen the given number of clock
// pulses; 0 sets the bus free. A bus in use needs at most nine.
func (b *Bus) Stick(pulses int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.stuck = pulses
}
