package bus

import (
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// Lines says what holds a bus.
type Lines struct {
	SCLLow, SDALow bool
}

// String tells the person with the screwdriver where to look.
func (l Lines) String() string {
	switch {
	case l.SCLLow && l.SDALow:
		return "SCL and SDA are low: no supply or no pull-ups on the bus, or a short to ground"
	case l.SCLLow:
		return "SCL is low: a chip stretches the clock for ever, or the wire is shorted to ground"
	case l.SDALow:
		return "SDA is low: a chip was stopped in the middle of a byte, or the wire is shorted to ground"
	}
	return "both lines are high, as on an idle bus"
}

// Look reads both lines of a bus as inputs.
func Look(scl, sda gpio.PinIO) (Lines, error) {
	if err := errors.Join(release(scl), release(sda)); err != nil {
		return Lines{}, fmt.Errorf("look at the bus lines: %w", err)
	}
	return Lines{SCLLow: scl.Read() == gpio.Low, SDALow: sda.Read() == gpio.Low}, nil
}

// ErrHeld says that clocking did not help.
var ErrHeld = errors.New("the bus stays stuck; switch the chips off and on")

// Clear frees a bus on which a chip holds SDA low because it was stopped in
// the middle of a byte: it pulses SCL, at most nine times, until the chip lets
// go, and ends with a stop condition (I²C specification UM10204, section
// 3.1.16). It returns the number of pulses that were needed.
//
// The two pins must be general ones that may be driven while the controller
// idles: spare pins wired in parallel to the bus are best. On boards where the
// controller's own pins turn into inputs and stay so, as on a Raspberry Pi,
// the bus needs its driver bound again afterwards. A line is pulled low or let
// go, never driven high, for a chip may hold it.
func Clear(scl, sda gpio.PinIO) (pulses int, err error) {
	lines, err := Look(scl, sda)
	if err != nil {
		return 0, err
	}
	if lines.SCLLow {
		return 0, fmt.Errorf("clear the bus: %s: %w", lines, ErrHeld)
	}
	for ; sda.Read() == gpio.Low; pulses++ {
		if pulses == 9 {
			return pulses, fmt.Errorf("clear the bus: SDA is low after nine pulses: %w", ErrHeld)
		}
		if err := pulse(scl); err != nil {
			return pulses, fmt.Errorf("clear the bus: %w", err)
		}
	}
	if err := stop(scl, sda); err != nil {
		return pulses, fmt.Errorf("clear the bus: %w", err)
	}
	return pulses, nil
}

// half is half a clock of the slowest standard mode, 100 kHz.
const half = 5 * time.Microsecond

// release lets a line go, so that the pull-up raises it.
func release(p gpio.PinIO) error { return p.In(gpio.PullUp, gpio.NoEdge) }

// pulse gives one clock.
func pulse(scl gpio.PinIO) error {
	if err := scl.Out(gpio.Low); err != nil {
		return err
	}
	time.Sleep(half)
	err := release(scl)
	time.Sleep(half)
	return err
}

// stop makes a stop condition: SDA rises while SCL is high.
func stop(scl, sda gpio.PinIO) error {
	steps := []func() error{
		func() error { return scl.Out(gpio.Low) },
		func() error { return sda.Out(gpio.Low) },
		func() error { return release(scl) },
		func() error { return release(sda) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
		time.Sleep(half)
	}
	return nil
}
