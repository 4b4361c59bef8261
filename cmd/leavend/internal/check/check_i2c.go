package check

import (
	"fmt"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// BusOpener opens an I²C bus by its number.
type BusOpener func(bus int) (wires Wires, done func() error, err error)

// OpenI2C opens a bus of this board.
func OpenI2C(bus int) (Wires, func() error, error) {
	b, err := hardware.OpenI2C(bus)
	if err != nil {
		return nil, nil, err
	}
	return b, b.Close, nil
}

// checkBuses looks at each I²C bus that a sensor hangs on: whether it is
// there, who answers on it, and whether those are the ones configured.
func checkBuses(c *config.Config, b Board, open BusOpener) []Result {
	var buses []int
	for _, s := range c.Sensors {
		if s.OnI2C() && !slices.Contains(buses, s.Bus) {
			buses = append(buses, s.Bus)
		}
	}
	slices.Sort(buses)
	var out []Result
	for _, bus := range buses {
		r, ok := b.I2C(bus)
		if !ok {
			out = append(out, r)
			continue
		}
		out = append(out, checkChips(c, bus, open)...)
	}
	return out
}

// checkChips asks who answers on a bus, and behind each multiplexer on it.
func checkChips(c *config.Config, bus int, open BusOpener) []Result {
	wires, done, err := open(bus)
	if err != nil {
		return []Result{Unopened(bus, err)}
	}
	var out []Result
	for _, at := range sockets(c, bus) {
		out = append(out, checkSocket(c, bus, at, wires)...)
		if at.Mux != 0 {
			// Two open channels would mix their chips. One that does not
			// answer has been told of already.
			_ = wires.Tx(uint16(at.Mux), []byte{0}, nil)
		}
	}
	if err := done(); err != nil {
		out = append(out, Unclosed(err))
	}
	return out
}

// onBus is the topic of what is said of an I²C bus.
func onBus(bus int) string { return fmt.Sprintf("i2c bus %d", bus) }

// Unopened is a bus that cannot be opened.
func Unopened(bus int, err error) Result {
	return fail(onBus(bus), "check.i2c.unopened", text.Cause("err", err))
}

// Unclosed is a bus that could not be closed; the error says which.
func Unclosed(err error) Result {
	return warn("sensors", "check.i2c.unclosed", text.Cause("err", err))
}

// sockets returns the places on a bus that the configuration speaks of, the
// bus itself first.
func sockets(c *config.Config, bus int) []hardware.Socket {
	out := []hardware.Socket{{}}
	for _, s := range c.Sensors {
		at := hardware.Socket{Mux: s.Mux, Channel: s.MuxChannel}
		if s.OnI2C() && s.Bus == bus && s.Mux != 0 && !slices.Contains(out, at) {
			out = append(out, at)
		}
	}
	return out
}

// checkSocket looks at the chips of one place.
func checkSocket(c *config.Config, bus int, at hardware.Socket, wires Wires) []Result {
	where := onBus(bus)
	if at.Mux != 0 {
		where += fmt.Sprintf(" mux 0x%02x channel %d", at.Mux, at.Channel)
		// TCA9548A data sheet, control register: bit n opens channel n.
		if err := wires.Tx(uint16(at.Mux), []byte{1 << at.Channel}, nil); err != nil {
			return []Result{fail(where, "check.i2c.mux", text.Cause("err", err))}
		}
	}
	var here []config.Sensor
	var rangers []uint16
	for _, s := range c.Sensors {
		if !s.OnI2C() || s.Bus != bus || (hardware.Socket{Mux: s.Mux, Channel: s.MuxChannel}) != at {
			continue
		}
		here = append(here, s)
		if s.Measures(sensor.Distance) {
			rangers = append(rangers, uint16(s.Address))
		}
	}
	found := Scan(wires, rangers, time.Sleep)
	survey := Survey(where, slices.DeleteFunc(slices.Clone(found), func(f Found) bool {
		return int(f.Address) == at.Mux // it is on the bus itself, and was told of there
	}))
	out := []Result{survey}
	for _, s := range here {
		out = append(out, Expect(s.Name, string(s.Chip), uint16(s.Address), s.XShut.Set, found))
	}
	return out
}
