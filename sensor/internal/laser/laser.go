// Package laser holds what the drivers of the laser rangers share: the order
// of a reading, the chip that lost its settings, and the cover glass.
package laser

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor"
	"leavend/sensor/bus"
)

// Addr is the address of each of them after power-on.
const Addr = 0x29

// Waker brings a chip to its address after a reset. A chip alone on its bus
// needs none.
type Waker interface {
	Wake(ctx context.Context) error
}

// Steps are what each chip does in its own way. The accesses of a step leave
// their first error in the register file.
type Steps struct {
	SetUp     func(ctx context.Context)                        // brings the chip from any state to ours
	Remembers func() bool                                      // reports whether it still has our settings
	Measure   func(ctx context.Context) []byte                 // does one measurement and returns the result registers
	Judge     func(b []byte) (r sensor.Reading, reason string) // decodes them; a reason says why they are not believed

	Cells        func(b []byte) float64 // receivers that share the light; 1 where the chip reckons with all of it
	TakenKcps    *float64               // light that SetUp has the chip take off
	MinMM, MaxMM float64                // where it measures
}

// Ranger is one chip.
type Ranger struct {
	reg   *bus.Regs
	wake  Waker
	steps Steps
	up    bool // set up and not known to have failed since
}

// New returns a chip with the given steps.
func New(reg *bus.Regs, wake Waker, steps Steps) Ranger {
	return Ranger{reg: reg, wake: wake, steps: steps}
}

// String names the chip, its bus and its address.
func (r *Ranger) String() string { return r.reg.String() }

// Take returns the register file's error under the name of the act, and
// forgets that the chip was set up.
func (r *Ranger) Take(act string) error {
	err := r.reg.Take()
	if err == nil {
		return nil
	}
	r.up = false
	return r.reg.Fail(act, err)
}

// Forget makes the next reading set the chip up anew.
func (r *Ranger) Forget() { r.up = false }

// Read measures the distance to the surface. A measurement that should not be
// believed is an error that holds a *sensor.Refused.
func (r *Ranger) Read(ctx context.Context) (sensor.Reading, error) {
	if r.up {
		// It may have been reset: by a dip of its supply, or by its shut-down line.
		ok := r.steps.Remembers()
		r.up = r.reg.Take() == nil && ok
	}
	if err := r.ready(ctx); err != nil {
		return sensor.Reading{}, err
	}
	v, _, err := r.measure(ctx, "measure")
	return v, err
}

// ready sets the chip up if need be.
func (r *Ranger) ready(ctx context.Context) error {
	if r.up {
		return nil
	}
	if r.wake != nil {
		if err := r.wake.Wake(ctx); err != nil {
			return r.reg.Fail("wake", err)
		}
	}
	r.reg.Pause(ctx, 2*time.Millisecond) // They boot within 1.4 ms (data sheets), and are deaf meanwhile.
	r.steps.SetUp(ctx)
	err := r.Take("set up")
	r.up = err == nil
	return err
}

// measure does one measurement and returns it, with its result registers.
func (r *Ranger) measure(ctx context.Context, act string) (sensor.Reading, []byte, error) {
	at := time.Now()
	b := r.steps.Measure(ctx)
	if err := r.Take(act); err != nil {
		return sensor.Reading{}, nil, err
	}
	v, reason := r.steps.Judge(b)
	v.At = at
	if reason != "" {
		return sensor.Reading{}, nil, r.reg.Fail(act, &sensor.Refused{Reading: v, Reason: reason})
	}
	return v, b, nil
}

// Readdress writes a new address, where the chip stays until it loses its
// supply, to the register that keeps it.
func Readdress(b i2c.Bus, chip string, index bus.Index, register, to uint16) error {
	reg := bus.New(b, Addr, chip, index)
	reg.Put8(register, uint8(to&0x7F))
	if err := reg.Take(); err != nil {
		return reg.Fail(fmt.Sprintf("move to 0x%02x", to), err)
	}
	return nil
}
