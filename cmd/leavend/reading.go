package main

import (
	"context"
	"leavend/sensor"
	"math"
	"time"
)

const (
	checkReads    = 5               // how often a sensor is read; a ranger more often
	checkPatience = 5 * time.Second // how long one reading may take
	topicPatience = 15 * time.Second
)

// readSome reads a source n times. After two failures on end it gives up: the
// next would only take as long.
func readSome(ctx context.Context, from sensor.Source, n int) (values []float64, errs []error) {
	onEnd := 0
	for range n {
		limited, cancel := context.WithTimeout(ctx, checkPatience)
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

// held is a value that counts only while it is fresh.
type held struct {
	value float64
	at    time.Time
}

// fresh returns the value, or NaN when it is older than age.
func (h held) fresh(now time.Time, age time.Duration) float64 {
	if h.at.IsZero() || now.Sub(h.at) > age {
		return math.NaN()
	}
	return h.value
}
