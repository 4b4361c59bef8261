package w1

import (
	"errors"
	"math"
	"time"
)

// StillC is the temperature from which on a reading that stands still is
// suspect: no mat heats below it, and in a fridge nothing moves for hours.
const StillC = 15

// What a reading that does not move may mean.
var (
	ErrStill = errors.New("its reading has not moved by its last digit for too long: its conversions may be lost on the wire, or it is broken")
	ErrWoken = errors.New("exactly 25 °C, which copies of this probe show when their supply failed; it is believed once it moves")
)

// watch sees whether a probe still converts.
type watch struct {
	still time.Duration // the longest that a reading may stay the same; 0 is for ever
	last  float64
	since time.Time // when the last reading became what it is; zero before the first
	woken bool      // the last reading is that of a copy that woke up
}

// see takes a reading, and returns why it is not believed. copied says that the
// probe is not a genuine one.
func (w *watch) see(tempC float64, at time.Time, copied bool) error {
	if w.since.IsZero() || tempC != w.last {
		jumped := w.since.IsZero() || math.Abs(tempC-w.last) > 1
		w.woken = copied && tempC == 25 && jumped
		w.last, w.since = tempC, at
	}
	switch {
	case w.woken:
		return ErrWoken
	case w.still > 0 && tempC >= StillC && at.Sub(w.since) >= w.still:
		return ErrStill
	}
	return nil
}
