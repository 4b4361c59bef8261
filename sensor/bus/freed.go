package bus

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"
)

// Freed is a bus that is clocked free when it is stuck, by two spare lines
// wired to it; see Clear for what they must be.
type Freed struct {
	i2c.Bus
	scl, sda gpio.PinIO
	every    time.Duration

	mu    sync.Mutex // guards what follows
	tried time.Time
}

// NewFreed returns b with its two lines. It tries to free the bus at most once
// in the given time, for each try costs the readings nothing but does not help
// against a wire on ground; 0 means 10 s.
func NewFreed(b i2c.Bus, scl, sda gpio.PinIO, every time.Duration) *Freed {
	if every == 0 {
		every = 10 * time.Second
	}
	return &Freed{Bus: b, scl: scl, sda: sda, every: every}
}

// Tx does a transfer. One that fails because the bus is stuck stays failed,
// but says what was found and done; the next one finds the bus free.
func (f *Freed) Tx(addr uint16, w, r []byte) error {
	err := f.Bus.Tx(addr, w, r)
	if err == nil || !errors.Is(Explain(err), ErrStuck) {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.tried.IsZero() && time.Since(f.tried) < f.every {
		return err
	}
	f.tried = time.Now()
	pulses, clearErr := Clear(f.scl, f.sda)
	if clearErr != nil {
		return fmt.Errorf("%w; %w", Explain(err), clearErr)
	}
	return fmt.Errorf("%w; freed by %d clock pulses", Explain(err), pulses)
}
