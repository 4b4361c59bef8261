package hardware

import (
	"context"
	"leavend/sensor"
	"math"
	"time"
)

// How long one reading may take, and how long one message.
const (
	ReadLimit    = 5 * time.Second
	MessageLimit = 15 * time.Second
)

// ReadSome reads a source n times. After two failures on end it gives up: the
// next would only take as long.
func ReadSome(ctx context.Context, from sensor.Source, n int) (values []float64, errs []error) {
	onEnd := 0
	for range n {
		limited, cancel := context.WithTimeout(ctx, ReadLimit)
		r, err := from.Read(limited)
		cancel()
		if err != nil {
			errs = append(errs, err)
			if onEnd++; onEnd == 2 || ctx.Err() != nil {
				break
			}
			continue
		}
		onEnd = 0
		values = append(values, r.Value)
	}
	return values, errs
}

// Recent is a value that counts only while it is fresh.
type Recent struct {
	Value float64
	At    time.Time
}

// Within returns the value, or NaN when it is older than age.
func (h Recent) Within(now time.Time, age time.Duration) float64 {
	if h.At.IsZero() || now.Sub(h.At) > age {
		return math.NaN()
	}
	return h.Value
}
