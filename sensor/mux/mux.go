// Package mux drives TI's TCA9548A, a switch that puts one of eight buses
// behind the board's own, so that chips of the same address can live together.
//
// A port is an I²C bus like any other, and a driver on it need not know. The
// switch is set before the transfer when it stands elsewhere, and read back:
// a switch that lost its settings would make a chip speak for another. After
// any error the setting counts as unknown and is written again.
//
// Chips on the board's own bus are heard on every port, so none of them may
// have an address that is used behind the switch.
//
// Data sheet: TI SCPS207G, sections "Control Register" and "RESET Input".
package mux

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"leavend/sensor/bus"
)

// Addr is the first of the eight addresses, 0x70 to 0x77.
const Addr = 0x70

// Opts holds what a switch may have beyond its address.
type Opts struct {
	Reset gpio.PinOut // wired to RESET of all switches; frees a bus stuck behind one. May be nil
}

// Mux is all the switches on one bus: only one port of them is open at a time.
type Mux struct {
	bus   i2c.Bus
	addrs []uint16
	opts  Opts

	mu   sync.Mutex // guards what follows, and the bus for the time of a transfer
	open *Port      // the port that is open, nil when that is not known
	w, r [1]byte
}

// Port is one of the buses behind a switch.
type Port struct {
	mux     *Mux
	addr    uint16
	channel int
	name    string
}

// New returns the switches at the given addresses. It does not touch the bus.
func New(b i2c.Bus, addrs []uint16, opts Opts) (*Mux, error) {
	if len(addrs) == 0 {
		return nil, errors.New("mux: no address is given")
	}
	for _, a := range addrs {
		if a < Addr || a > Addr+7 {
			return nil, fmt.Errorf("mux: address 0x%02x is not within 0x70 to 0x77", a)
		}
	}
	return &Mux{bus: b, addrs: addrs, opts: opts}, nil
}

// Port returns channel 0 to 7 of the switch at addr as a bus.
func (m *Mux) Port(addr uint16, channel int) (*Port, error) {
	for _, a := range m.addrs {
		if a == addr && channel >= 0 && channel <= 7 {
			return &Port{m, addr, channel, fmt.Sprintf("%s/0x%02x.%d", m.bus, addr, channel)}, nil
		}
	}
	return nil, fmt.Errorf("mux %s: there is no port %d at 0x%02x", m.bus, channel, addr)
}

// String names the bus, the switch and the channel, such as I2C1/0x70.3.
func (p *Port) String() string { return p.name }

// SetSpeed sets the speed of the bus that all ports share.
func (p *Port) SetSpeed(f physic.Frequency) error { return p.mux.bus.SetSpeed(f) }

// Tx opens the port, if it is not open, and does a transfer on it.
func (p *Port) Tx(addr uint16, w, r []byte) error {
	m := p.mux
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.open != p {
		if err := m.turn(p); err != nil {
			return m.lost(err)
		}
	}
	if err := m.bus.Tx(addr, w, r); err != nil {
		return m.lost(err)
	}
	return nil
}

// turn closes all switches but the port's and opens the port.
func (m *Mux) turn(p *Port) error {
	m.open = nil
	for _, a := range m.addrs {
		want := byte(0)
		if a == p.addr {
			want = 1 << p.channel
		}
		m.w[0], m.r[0] = want, ^want
		if err := m.bus.Tx(a, m.w[:], nil); err != nil {
			return fmt.Errorf("tca9548a %s 0x%02x: set: %w", m.bus, a, bus.Explain(err))
		}
		if err := m.bus.Tx(a, nil, m.r[:]); err != nil {
			return fmt.Errorf("tca9548a %s 0x%02x: read back: %w", m.bus, a, bus.Explain(err))
		}
		if m.r[0] != want {
			return fmt.Errorf("tca9548a %s 0x%02x: stands at 0x%02x, not at 0x%02x: noise, or another chip sits there", m.bus, a, m.r[0], want)
		}
	}
	m.open = p
	return nil
}

// lost forgets the setting after an error, and resets the switches when the
// bus is stuck: that cuts off the port on which a chip holds it.
func (m *Mux) lost(err error) error {
	m.open = nil
	if m.opts.Reset == nil || !errors.Is(bus.Explain(err), bus.ErrStuck) {
		return err
	}
	if e := m.opts.Reset.Out(gpio.Low); e != nil {
		return errors.Join(err, fmt.Errorf("reset the switch: %w", e))
	}
	time.Sleep(time.Millisecond) // At least 6 ns.
	if e := m.opts.Reset.Out(gpio.High); e != nil {
		return errors.Join(err, fmt.Errorf("reset the switch: %w", e))
	}
	return err
}

var _ i2c.Bus = (*Port)(nil)
