// Package air gives what one measurement of the air says, its warmth and its
// damp, as two sources: the one that is read second finds its value ready.
package air

import (
	"context"
	"fmt"
	"time"

	"leavend/sensor"
)

// Measured is one measurement of the air.
type Measured struct {
	At      time.Time
	TempC   float64
	Percent float64 // relative humidity
}

// Air is a chip that measures both. It is used from one goroutine.
type Air struct {
	chip    fmt.Stringer
	measure func(ctx context.Context) (Measured, error)
	last    Measured
	unread  [2]bool
	half    [2]half
}

// half is one of the two quantities as a source.
type half struct {
	air   *Air
	which int
}

// New returns the two sources of a chip.
func New(chip fmt.Stringer, measure func(ctx context.Context) (Measured, error)) *Air {
	a := &Air{chip: chip, measure: measure}
	a.half = [2]half{{a, 0}, {a, 1}}
	return a
}

// Temperature returns the thermometer.
func (a *Air) Temperature() sensor.Source { return &a.half[0] }

// Humidity returns the hygrometer.
func (a *Air) Humidity() sensor.Source { return &a.half[1] }

// String names the chip and the quantity.
func (h *half) String() string { return h.air.chip.String() + " " + h.quantity().String() }

func (h *half) quantity() sensor.Quantity {
	if h.which == 1 {
		return sensor.Humidity
	}
	return sensor.Temperature
}

// shared is how long one measurement serves both quantities.
const shared = time.Second

// Read measures, unless the other quantity has just done so.
func (h *half) Read(ctx context.Context) (sensor.Reading, error) {
	a := h.air
	if !a.unread[h.which] || time.Since(a.last.At) > shared {
		a.unread = [2]bool{}
		m, err := a.measure(ctx)
		if err != nil {
			return sensor.Reading{}, err
		}
		a.last, a.unread = m, [2]bool{true, true}
	}
	a.unread[h.which] = false
	value := [2]float64{a.last.TempC, a.last.Percent}[h.which]
	return sensor.Reading{At: a.last.At, Quantity: h.quantity(), Value: value}, nil
}
