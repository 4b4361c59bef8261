// Package laser holds what the drivers of the laser rangers share: the order
// of a reading, what no reading may be, the chip that lost its settings, and
// the calibration by cards.
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
	SetUp     func(ctx context.Context) // brings the chip from any state to ours
	Remembers func() bool               // reports whether it still has our settings
	Clear     func()                    // takes back that a result waits
	Start     func()                    // starts one measurement
	Stop      func()                    // ends what Start began; nil where the chip ends it by itself
	Ready     Ready
	Result    Result
	Takes     time.Duration // of one measurement: it is not asked before
	Within    time.Duration // and a result must wait by then

	// Decode makes a reading of the result registers. A reason says why it
	// should not be believed, beyond what Limits say.
	Decode func(b []byte) (r sensor.Reading, reason string)
	Limits Limits

	Cells     func(b []byte) float64 // receivers that share the light; 1 where the chip reckons with all of it
	TakenKcps *float64               // light that SetUp has the chip take off
	OffsetMM  float64                // added to what the chip says
}

// Ready is where a chip says that a result waits. Only the bits under the mask
// are looked at: the others say other things.
type Ready struct {
	Register   uint16
	Mask, Want uint8
}

// Result is where a chip lays a result down.
type Result struct {
	Register uint16
	Len      int
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

// Halt ends a measurement; the laser is off between measurements.
func (r *Ranger) Halt() error {
	r.up = false
	if r.steps.Stop != nil {
		r.steps.Stop()
	}
	return r.Take("halt")
}

// Read measures the distance to the surface. A measurement that should not be
// believed is an error that holds a *sensor.Refused.
func (r *Ranger) Read(ctx context.Context) (sensor.Reading, error) {
	if r.up {
		// It may have been reset: by a dip of its supply, or by its shut-down line.
		ok := r.steps.Remembers()
		r.up = r.reg.Take() == nil && ok
	}
	if err := r.setUp(ctx); err != nil {
		return sensor.Reading{}, err
	}
	v, _, err := r.measure(ctx, "measure")
	return v, err
}

// setUp sets the chip up if need be.
func (r *Ranger) setUp(ctx context.Context) error {
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
	b := r.Once(ctx)
	if err := r.Take(act); err != nil {
		return sensor.Reading{}, nil, err
	}
	v, reason := r.steps.Decode(b)
	v.At = at
	v.Quantity = sensor.Distance
	v.Value += r.steps.OffsetMM
	if reason == "" {
		reason = r.steps.Limits.refuse(v)
	}
	if reason != "" {
		return sensor.Reading{}, nil, r.reg.Fail(act, &sensor.Refused{Reading: v, Reason: reason})
	}
	return v, b, nil
}

// Once does one measurement and returns its result registers. What stood in
// them before is read first, so that an old result is not taken for a new one.
func (r *Ranger) Once(ctx context.Context) []byte {
	s := &r.steps
	s.Clear()
	if r.reg.U8(s.Ready.Register)&s.Ready.Mask == s.Ready.Want {
		r.reg.Refuse(bus.ErrEarly)
	}
	r.reg.Old(s.Result.Register, s.Result.Len)
	s.Start()
	r.reg.Pause(ctx, s.Takes)
	r.reg.WaitFor(ctx, "a result", 2*time.Millisecond, s.Within-s.Takes,
		func() bool { return r.reg.Shows(s.Ready.Register, s.Ready.Mask, s.Ready.Want) })
	b := r.reg.Fresh(s.Result.Register, s.Result.Len)
	if s.Stop != nil {
		s.Stop() // It only writes, so b stays valid.
	}
	return b
}

// Identify refuses a chip whose model number is another. Zero is what a chip
// shows that was left in reset.
func Identify(reg *bus.Regs, got, want uint16, name string) {
	if got != want && got != 0 {
		reg.Refuse(fmt.Errorf("%w: this is no %s: its model is 0x%02x, not 0x%02x", bus.ErrOther, name, got, want))
	}
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
