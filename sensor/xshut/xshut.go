// Package xshut lets several laser rangers live on one bus. They all wake up
// at address 0x29; each has a shutdown pin, XSHUT, by which they are woken one
// after the other and moved apart.
//
// A ranger that loses its supply for a moment comes back at 0x29. Its driver
// notices, asks its Member to Wake it, and that holds all strangers at 0x29 in
// shutdown while the one is moved. The readings of the others are not disturbed.
//
// A pin is pulled low or let go, never driven high: XSHUT of the bare chips
// bears 2.8 V, and boards with a level shifter pull it up themselves.
package xshut

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"leavend/sensor/bus"
)

// Home is the address at which all rangers wake up.
const Home = 0x29

// Assigner is the rangers on one bus. Join them all before the first is read.
type Assigner struct {
	bus i2c.Bus

	mu      sync.Mutex // guards what follows
	members []*Member
}

// Move brings the chip at Home to an address, such as vl53l1x.Readdress.
type Move func(b i2c.Bus, to uint16) error

// Member is one ranger of an assigner. It is the Wake option of its driver.
type Member struct {
	assigner *Assigner
	pin      gpio.PinIO
	addr     uint16
	move     Move
	awake    bool // believed to answer at addr
}

// New returns the assigner of a bus.
func New(b i2c.Bus) *Assigner { return &Assigner{bus: b} }

// Join adds the ranger whose XSHUT is wired to pin and which is to answer at
// addr. It puts the ranger into shutdown.
func (l *Assigner) Join(pin gpio.PinIO, addr uint16, move Move) (*Member, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if addr < 0x08 || addr > 0x77 || addr == Home {
		return nil, fmt.Errorf("ranger at 0x%02x: the address must be within 0x08 to 0x77, and not 0x29, where all of them wake up", addr)
	}
	for _, m := range l.members {
		if m.addr == addr {
			return nil, fmt.Errorf("ranger at 0x%02x: another one has this address", addr)
		}
	}
	m := &Member{assigner: l, pin: pin, addr: addr, move: move}
	l.members = append(l.members, m)
	return m, m.sleep()
}

// sleep puts the ranger into shutdown.
func (m *Member) sleep() error {
	m.awake = false
	if err := m.pin.Out(gpio.Low); err != nil {
		return fmt.Errorf("ranger at 0x%02x: pull XSHUT (%s) low: %w", m.addr, m.pin, err)
	}
	return nil
}

// What may be wrong with the wiring of an assigner.
var (
	errStranger = errors.New("a ranger answers at 0x29 although every XSHUT is low: one is not wired, or one ranger too many is on the bus")
	errSilent   = errors.New("nothing answers at 0x29 after XSHUT was let go: not wired, or without power")
	errNotMoved = errors.New("it does not answer at its new address")
)

// Wake resets the ranger and brings it to its address.
func (m *Member) Wake(ctx context.Context) error {
	l := m.assigner
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.clearHome(m); err != nil {
		return err
	}
	if err := m.pin.In(gpio.Float, gpio.NoEdge); err != nil {
		return fmt.Errorf("let XSHUT (%s) go: %w", m.pin, err)
	}
	if err := pause(ctx); err != nil {
		return err
	}
	if there, err := l.answers(Home); err != nil || !there {
		return orElse(err, errSilent)
	}
	if err := m.move(l.bus, m.addr); err != nil {
		return err
	}
	if there, err := l.answers(m.addr); err != nil || !there {
		return orElse(err, errNotMoved)
	}
	m.awake = true
	return nil
}

// clearHome makes sure that no ranger is at Home: the ranger itself, those that
// are known to be lost, and, when one is there that should be elsewhere, all.
func (l *Assigner) clearHome(m *Member) error {
	if err := m.sleep(); err != nil {
		return err
	}
	for _, other := range l.members {
		if !other.awake {
			if err := other.sleep(); err != nil {
				return err
			}
		}
	}
	if there, err := l.answers(Home); err != nil || !there {
		return err
	}
	var all error
	for _, other := range l.members {
		all = errors.Join(all, other.sleep())
	}
	if all != nil {
		return all
	}
	if there, err := l.answers(Home); err != nil || there {
		return orElse(err, errStranger)
	}
	return nil
}

// answers reports whether a chip acknowledges an address. A bus that cannot
// be asked is an error, for it says nothing of any ranger.
func (l *Assigner) answers(addr uint16) (bool, error) {
	var b [1]byte
	err := bus.Explain(l.bus.Tx(addr, nil, b[:]))
	if errors.Is(err, bus.ErrNoAck) {
		return false, nil
	}
	return err == nil, err
}

// orElse returns the error of the bus, or else what its silence means.
func orElse(err, meaning error) error {
	if err != nil {
		return err
	}
	return meaning
}

// pause waits for a ranger to boot: at most 1.4 ms for any of them.
func pause(ctx context.Context) error {
	time.Sleep(2 * time.Millisecond)
	return ctx.Err()
}
