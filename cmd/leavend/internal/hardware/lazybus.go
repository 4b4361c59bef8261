package hardware

import (
	"context"
	"fmt"
	"leavend/sensor"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/host/v3/sysfs"
)

// OpenI2C opens a bus of this board through /dev/i2c-N.
func OpenI2C(number int) (i2c.BusCloser, error) { return sysfs.NewI2C(number) }

// lazyBus is a bus that is opened at its first transfer, and tried again with
// the next one if that fails: it may be switched on after the daemon started.
type lazyBus struct {
	number int
	open   func(int) (i2c.BusCloser, error)

	mu  sync.Mutex // guards bus; transfers come from one goroutine, Close from another
	bus i2c.BusCloser
}

// opened opens the bus if need be.
func (l *lazyBus) opened() (i2c.BusCloser, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.bus != nil {
		return l.bus, nil
	}
	bus, err := l.open(l.number)
	if err != nil {
		return nil, fmt.Errorf("i2c bus %d: %w; is it switched on, and may this user open /dev/i2c-%d?", l.number, err, l.number)
	}
	l.bus = bus
	return bus, nil
}

// String names the bus as periph does.
func (l *lazyBus) String() string { return fmt.Sprintf("I2C%d", l.number) }

// Tx does a transfer.
func (l *lazyBus) Tx(addr uint16, w, r []byte) error {
	bus, err := l.opened()
	if err != nil {
		return err
	}
	return bus.Tx(addr, w, r)
}

// SetSpeed sets the speed of the bus.
func (l *lazyBus) SetSpeed(f physic.Frequency) error {
	bus, err := l.opened()
	if err != nil {
		return err
	}
	return bus.SetSpeed(f)
}

// Close closes the bus if it was opened.
func (l *lazyBus) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.bus == nil {
		return nil
	}
	bus := l.bus
	l.bus = nil
	return bus.Close()
}

// unreadable is a source that cannot be read, and says why.
type unreadable struct{ err error }

// Read returns why.
func (b unreadable) Read(context.Context) (sensor.Reading, error) { return sensor.Reading{}, b.err }
