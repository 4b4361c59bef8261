// Package line switches a mat through a GPIO line: high is on, low is off.
//
// Only active-high drivers are supported, with a pull-down in hardware: a
// line that no driver holds, before boot and after a crash, must mean off. A
// line is an output from the first request on, low, and it is never read
// back: on periph's character-device lines a read turns the output into an
// input with a pull-up, which can switch the driver on.
//
// A lease is kept by a timer of this process. It lets go of the line when
// is not renewed, even if the control loop hangs; it cannot when the whole
// process is stopped, and what the line does after the process is killed is
// the kernel's choice (see deploy/board for what was measured).
package line

import (
	"context"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// Dev is a mat on a GPIO line. It implements control.Output.
type Dev struct {
	pin  gpio.PinOut
	name string

	mu    sync.Mutex  // guards the line and what follows
	lapse *time.Timer // lets go when the lease runs out
	err   error       // of a lapse that could not let go
	turn  uint64      // counts commands, so that an old timer knows that it is late
}

// New takes the pin as an output and drives it low. The pin is used for Out
// alone; Halt, which on periph does not switch anything off, is not called.
func New(pin gpio.PinOut) (*Dev, error) {
	d := &Dev{pin: pin, name: pin.Name()}
	if err := pin.Out(gpio.Low); err != nil {
		return nil, fmt.Errorf("line %s: drive low: %w", d.name, err)
	}
	return d, nil
}

// On drives the line high for the length of the lease.
func (d *Dev) On(ctx context.Context, lease time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.err != nil {
		return d.err
	}
	d.turn++
	turn := d.turn
	d.stop()
	// The timer is set first: a line must never be high without one.
	d.lapse = time.AfterFunc(lease, func() { d.expire(turn) })
	if err := d.pin.Out(gpio.High); err != nil {
		return fmt.Errorf("line %s: drive high: %w", d.name, err)
	}
	return nil
}

// Off drives the line low. It does so whatever ctx says.
func (d *Dev) Off(context.Context) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.turn++
	return d.low()
}

// String names the line.
func (d *Dev) String() string { return "line " + d.name }

// expire ends a lease that was not renewed.
func (d *Dev) expire(turn uint64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if turn != d.turn {
		return
	}
	// The error stays until an Off succeeds, and the next On reports it.
	d.err = d.low()
}

// low drives the line low. When that fails the timer tries again, for a line
// that could not be lowered is a line that may be on.
func (d *Dev) low() error {
	d.stop()
	if err := d.pin.Out(gpio.Low); err != nil {
		turn := d.turn
		d.lapse = time.AfterFunc(time.Second, func() { d.expire(turn) })
		return fmt.Errorf("line %s: drive low: %w", d.name, err)
	}
	d.err = nil
	return nil
}

// stop ends the running timer, if there is one.
func (d *Dev) stop() {
	if d.lapse != nil {
		d.lapse.Stop()
	}
}
