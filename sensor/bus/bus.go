// Package bus holds what the drivers of I²C chips share: register access with
// errors that name chip, bus and address, pauses that heed a context, and the
// means to clock a stuck bus free.
//
// A Regs keeps the first error of a row of accesses and skips the rest, so
// that an initialisation reads as the list of registers it is. It allocates
// nothing after New.
package bus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"syscall"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// What a failed transfer means for the person in front of it.
var (
	ErrNoise = errors.New("two reads of the same registers differ: noise on the bus")
	ErrEarly = errors.New("a result waits before the measurement has begun")
	ErrStale = errors.New("the chip repeats its last measurement to the bit, so it measures no more")
	ErrNoAck = errors.New("no acknowledge: not connected, without power, or at another address")
	ErrStuck = errors.New("the bus is stuck: a chip or a wire holds SDA or SCL low")
	ErrOther = errors.New("another chip answers")
)

// Explain adds what is wrong to a bus error. Periph passes the kernel's error
// on as text, so text is looked at where the number is gone: bcm2835 answers
// EREMOTEIO where no device acknowledges, most other controllers ENXIO, and all
// of them ETIMEDOUT when a line does not rise.
func Explain(err error) error {
	switch {
	case err == nil, errors.Is(err, ErrNoAck), errors.Is(err, ErrStuck):
		return err
	case says(err, syscall.EREMOTEIO), says(err, syscall.ENXIO):
		return fmt.Errorf("%w (%v)", ErrNoAck, err)
	case says(err, syscall.ETIMEDOUT), says(err, syscall.EAGAIN), says(err, syscall.EBUSY):
		return fmt.Errorf("%w (%v)", ErrStuck, err)
	}
	return err
}

// says reports whether err is the given kernel error, or tells its text.
func says(err error, errno syscall.Errno) bool {
	return errors.Is(err, errno) || strings.HasSuffix(err.Error(), errno.Error())
}

// Index is the width of a chip's register numbers.
type Index int

// The widths of register numbers on the wire.
const (
	Index8  Index = 1
	Index16 Index = 2
)

// most is the longest block a Regs moves at once.
const most = 128

// Regs is the register file of one chip. It is used from one goroutine.
type Regs struct {
	chip  string
	bus   i2c.Bus
	addr  uint16
	index Index
	err   error
	w     [most + 2]byte
	r     [most]byte
	twin  [most]byte // the second read of Sure
	last  [most]byte // the block that Fresh returned last
}

// New returns the registers of a chip at an address. It does not touch the
// bus.
func New(b i2c.Bus, addr uint16, chip string, index Index) *Regs {
	return &Regs{chip: chip, bus: b, addr: addr, index: index}
}

// String names the chip, its bus and its address, as errors do.
func (g *Regs) String() string { return fmt.Sprintf("%s %s 0x%02x", g.chip, g.bus, g.addr) }

// Addr returns the chip's address.
func (g *Regs) Addr() uint16 { return g.addr }

// Take returns the first error since the last call, and forgets it.
func (g *Regs) Take() error {
	err := g.err
	g.err = nil
	return err
}

// Refuse makes err the first error, unless there is one already: a chip that
// answered, but not what it must.
func (g *Regs) Refuse(err error) {
	if g.err == nil {
		g.err = err
	}
}

// Fail names the chip in front of an error.
func (g *Regs) Fail(act string, err error) error {
	return fmt.Errorf("%s: %s: %w", g, act, err)
}

// Tx does one transfer without a register number, for chips that take
// commands. Like all accesses it is skipped after an error.
func (g *Regs) Tx(w, r []byte) {
	if g.err != nil {
		return
	}
	if err := g.bus.Tx(g.addr, w, r); err != nil {
		clear(r)
		g.err = Explain(err)
	}
}

// Read returns n bytes from register reg on. They are valid until the next
// access, and zero after an error.
func (g *Regs) Read(reg uint16, n int) []byte {
	r := g.r[:n]
	if g.err != nil {
		clear(r)
		return r
	}
	if err := g.bus.Tx(g.addr, g.w[:g.put(reg)], r); err != nil {
		clear(r)
		g.err = fmt.Errorf("read register 0x%02x: %w", reg, Explain(err))
	}
	return r
}

// Sure reads n bytes twice and fails when the reads differ. I²C has no
// checksum, so this is all the proof there is; it is for registers whose
// content makes a wrong reading, and that do not change by themselves.
func (g *Regs) Sure(reg uint16, n int) []byte {
	copy(g.twin[:n], g.Read(reg, n))
	r := g.Read(reg, n)
	if g.err == nil && !bytes.Equal(r, g.twin[:n]) {
		g.err = fmt.Errorf("read register 0x%02x: %w", reg, ErrNoise)
		clear(r)
	}
	return r
}

// Sure16 is Sure for a register of two bytes, the high one first.
func (g *Regs) Sure16(reg uint16) uint16 {
	b := g.Sure(reg, 2)
	return uint16(b[0])<<8 | uint16(b[1])
}

// Old reads a block of results before the next measurement begins, for Fresh to
// tell the new one from it.
func (g *Regs) Old(reg uint16, n int) { copy(g.last[:n], g.Sure(reg, n)) }

// Fresh is Sure for a block of results that holds counts of light or the like:
// a block that equals the one before to the bit was not measured again. A chip
// has one such block.
func (g *Regs) Fresh(reg uint16, n int) []byte {
	r := g.Sure(reg, n)
	if g.err == nil && bytes.Equal(r, g.last[:n]) {
		g.err = ErrStale
		clear(r)
	}
	copy(g.last[:n], r)
	return r
}

// Write writes the bytes to register reg and those behind it.
func (g *Regs) Write(reg uint16, b ...byte) {
	if g.err != nil {
		return
	}
	n := g.put(reg)
	n += copy(g.w[n:], b)
	if err := g.bus.Tx(g.addr, g.w[:n], nil); err != nil {
		g.err = fmt.Errorf("write register 0x%02x: %w", reg, Explain(err))
	}
}

// put lays the register number down in front of a transfer.
func (g *Regs) put(reg uint16) int {
	if g.index == Index16 {
		g.w[0], g.w[1] = byte(reg>>8), byte(reg)
		return 2
	}
	g.w[0] = byte(reg)
	return 1
}

// U8 reads a register of one byte.
func (g *Regs) U8(reg uint16) uint8 { return g.Read(reg, 1)[0] }

// U16 reads a register of two bytes, the high one first.
func (g *Regs) U16(reg uint16) uint16 {
	b := g.Read(reg, 2)
	return uint16(b[0])<<8 | uint16(b[1])
}

// Put8 writes a register of one byte.
func (g *Regs) Put8(reg uint16, v uint8) { g.Write(reg, v) }

// Put16 writes a register of two bytes, the high one first.
func (g *Regs) Put16(reg uint16, v uint16) { g.Write(reg, byte(v>>8), byte(v)) }

// Put32 writes a register of four bytes, the high one first.
func (g *Regs) Put32(reg uint16, v uint32) {
	g.Write(reg, byte(v>>24), byte(v>>16), byte(v>>8), byte(v))
}

// Shows reports whether a register reads as wanted under a mask, twice in a
// row: one bit of noise would pass an old result off as a new one. Where only
// some bits count, a byte of ones is no answer: so reads a transfer that broke
// off.
func (g *Regs) Shows(reg uint16, mask, want uint8) bool {
	for range 2 {
		if v := g.U8(reg); v&mask != want || v == 0xFF && mask != 0xFF {
			return false
		}
	}
	return true
}

// WaitFor calls done every step until it reports true, an access fails, ctx
// ends or the limit is over. what names the thing waited for.
func (g *Regs) WaitFor(ctx context.Context, what string, step, limit time.Duration, done func() bool) {
	deadline := time.Now().Add(limit)
	for g.err == nil {
		ok := done()
		switch {
		case g.err != nil || ok:
			return
		case ctx.Err() != nil:
			g.err = fmt.Errorf("wait for %s: %w", what, ctx.Err())
			return
		case time.Now().After(deadline):
			g.err = fmt.Errorf("wait for %s: nothing within %v", what, limit)
			return
		}
		g.Pause(ctx, step)
	}
}

// Pause waits, or less when ctx ends. Long pauses are taken in short steps,
// for a timer would allocate.
func (g *Regs) Pause(ctx context.Context, d time.Duration) {
	const step = 10 * time.Millisecond
	for d > 0 && g.err == nil {
		if err := ctx.Err(); err != nil {
			g.err = err
			return
		}
		time.Sleep(min(d, step))
		d -= step
	}
}
