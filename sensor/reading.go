// Package sensor holds what every sensor has in common: a reading, the place
// a probe sits at, and the errors a driver may return. Each chip or source
// has a package of its own below this one.
//
// A failed measurement is an error and no reading. No driver returns zero,
// the last value or a guess in its place.
package sensor

import (
	"context"
	"time"
)

// Quantity says what a reading measures, and with it the reading's unit.
type Quantity uint8

// The quantities a kitchen needs.
const (
	Distance    Quantity = iota + 1 // from the sensor down to the surface, mm
	Temperature                     // degrees Celsius
	Humidity                        // relative, percent
)

// String returns the quantity's name as it stands in logs and topics.
func (q Quantity) String() string {
	switch q {
	case Distance:
		return "distance"
	case Temperature:
		return "temperature"
	case Humidity:
		return "humidity"
	}
	return "unknown quantity"
}

// Reading is one measurement that the driver vouches for.
type Reading struct {
	At       time.Time // when it was taken, with the monotonic clock where there is one
	Quantity Quantity
	Value    float64 // in the unit that Quantity names
	Sigma    float64 // the chip's own estimate of one standard deviation, same unit; 0 if it gives none
	Signal   float64 // strength of the return as the chip reports it; 0 if it gives none
	Status   string  // the chip's raw word on this reading, for recordings and diagnosis
}

// Source is anything that can be asked for a reading: a driver, a topic, a
// recording. Read blocks until the measurement is done or ctx ends; it is
// called from one goroutine at a time.
type Source interface {
	Read(ctx context.Context) (Reading, error)
}
