package bustest

import (
	"errors"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"
)

// Pin is a general pin made of software, wired to something that listens and
// may pull it low.
type Pin struct {
	mu     sync.Mutex // guards what follows
	name   string
	level  gpio.Level
	fail   error
	driven int              // times it was driven high
	moved  func(gpio.Level) // hears each change of the wire
	pull   func() bool      // reports whether something else holds it low
}

// NewPin returns an input that floats high.
func NewPin(name string) *Pin { return &Pin{name: name, level: gpio.High} }

// Lines returns two pins wired to the clock and the data line of a bus: the
// chip that Stick made hold the data line sees the clock's pulses.
func (b *Bus) Lines() (scl, sda *Pin) {
	scl, sda = NewPin("SCL"), NewPin("SDA")
	scl.moved = func(l gpio.Level) {
		b.mu.Lock()
		defer b.mu.Unlock()
		if l == gpio.High && b.stuck > 0 {
			b.stuck--
		}
	}
	sda.pull = func() bool {
		b.mu.Lock()
		defer b.mu.Unlock()
		return b.stuck > 0
	}
	return scl, sda
}

// Hold makes something hold the pin low, whatever drives it.
func (p *Pin) Hold(low bool) { p.set(func() { p.pull = func() bool { return low } }) }

// Fail makes every further use of the pin fail.
func (p *Pin) Fail(err error) { p.set(func() { p.fail = err }) }

// OnMove sets a function that hears each change of the level it drives.
func (p *Pin) OnMove(f func(gpio.Level)) { p.set(func() { p.moved = f }) }

// DrivenHigh returns how often the pin was driven high, which a line of a bus
// never may be.
func (p *Pin) DrivenHigh() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.driven
}

func (p *Pin) set(f func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	f()
}

// In makes the pin an input, which a pull-up holds high.
func (p *Pin) In(_ gpio.Pull, _ gpio.Edge) error { return p.drive(false, gpio.High) }

// Out drives the pin.
func (p *Pin) Out(l gpio.Level) error { return p.drive(true, l) }

func (p *Pin) drive(out bool, l gpio.Level) error {
	p.mu.Lock()
	if p.fail != nil {
		defer p.mu.Unlock()
		return p.fail
	}
	changed := p.level != l
	p.level = l
	if out && l == gpio.High {
		p.driven++
	}
	moved := p.moved
	p.mu.Unlock()
	if changed && moved != nil {
		moved(l)
	}
	return nil
}

// Read returns the level on the wire.
func (p *Pin) Read() gpio.Level {
	p.mu.Lock()
	pull, level := p.pull, p.level
	p.mu.Unlock()
	if pull != nil && pull() {
		return gpio.Low
	}
	return level
}

// WaitForEdge waits in vain: no edge comes in.
func (p *Pin) WaitForEdge(timeout time.Duration) bool {
	time.Sleep(timeout)
	return false
}

// Halt does nothing.
func (p *Pin) Halt() error { return nil }

// Name returns the pin's name.
func (p *Pin) Name() string { return p.name }

// String returns the pin's name.
func (p *Pin) String() string { return p.name }

// Number returns -1: the pin has none.
func (p *Pin) Number() int { return -1 }

// Function returns nothing.
func (p *Pin) Function() string { return "" }

// Pull returns the pull-up.
func (p *Pin) Pull() gpio.Pull { return gpio.PullUp }

// DefaultPull returns the pull-up.
func (p *Pin) DefaultPull() gpio.Pull { return gpio.PullUp }

// PWM is not there.
func (p *Pin) PWM(gpio.Duty, physic.Frequency) error { return errors.New("no PWM on this pin") }

var _ gpio.PinIO = (*Pin)(nil)
