package event

import (
	"context"
	"sync/atomic"
	"time"
)

// Clock tells the time that the whole daemon goes by. It is the machine's, or
// in the demo a faster one. Both keep Go's monotonic reading, so that a wall
// clock that jumps moves no interval.
type Clock struct {
	base   time.Time // the time at the start
	speed  float64   // seconds shown for a second of the machine
	passed atomic.Int64

	// Wall, where set, turns the moment that is shown into one whose wall
	// clock was set since, for a simulation of that.
	Wall func(time.Time) time.Time
}

// NewClock returns a clock that shows base now and runs speed times as fast
// as the machine's. A fast clock stands still until Run is called.
func NewClock(base time.Time, speed float64) *Clock {
	return &Clock{base: base, speed: speed}
}

// Now returns the time.
func (c *Clock) Now() time.Time {
	now := c.Steady()
	if c.Wall != nil {
		now = c.Wall(now)
	}
	return now
}

// Steady returns the time by a clock that is never set.
func (c *Clock) Steady() time.Time {
	if c.speed == 1 {
		return time.Now()
	}
	return c.base.Add(time.Duration(c.passed.Load()))
}

// longestStep bounds what a fast clock moves at once: a machine that stalls for
// a moment must not look like hours without a reading.
const longestStep = 2 * time.Second

// Run drives a fast clock until ctx ends.
func (c *Clock) Run(ctx context.Context) {
	ticker := time.NewTicker(time.Millisecond)
	defer ticker.Stop()
	last := time.Now()
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-ticker.C:
			step := time.Duration(float64(now.Sub(last)) * c.speed)
			c.Advance(min(step, longestStep))
			last = now
		}
	}
}

// Advance moves a fast clock forward by d.
func (c *Clock) Advance(d time.Duration) { c.passed.Add(int64(d)) }

// Speed returns how many seconds the clock shows for a second of the machine.
func (c *Clock) Speed() float64 { return c.speed }

// Real returns how long the machine takes to show that d has passed, never less
// than a millisecond, below which timers are noise.
func (c *Clock) Real(d time.Duration) time.Duration {
	return max(time.Duration(float64(d)/c.speed), time.Millisecond)
}

// Every calls f each time that d has passed by this clock, until ctx ends.
func (c *Clock) Every(ctx context.Context, d time.Duration, f func(now time.Time)) {
	ticker := time.NewTicker(c.Real(d))
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
			f(c.Now())
		}
	}
}
