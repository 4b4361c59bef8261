package main

import (
	"context"
	"sync/atomic"
	"time"
)

// clock tells the house's time. A daemon's clock is the machine's; the demo's
// runs faster. Both keep Go's monotonic reading, so that a wall clock that
// jumps moves no interval.
type clock struct {
	base   time.Time // house time at start
	speed  float64   // house seconds a machine second
	passed atomic.Int64

	// wall is for tests: it returns the moment it is given with the wall
	// clock set anew, as the machine shows it after somebody set the clock.
	wall func(time.Time) time.Time
}

// newClock returns a clock that shows base now and runs speed times as fast
// as the machine's. A fast clock stands still until run is called.
func newClock(base time.Time, speed float64) *clock {
	return &clock{base: base, speed: speed}
}

// Now returns the house's time.
func (c *clock) Now() time.Time {
	now := c.steady()
	if c.wall != nil {
		now = c.wall(now)
	}
	return now
}

// steady is the house's time by a clock that nobody sets.
func (c *clock) steady() time.Time {
	if c.speed == 1 {
		return time.Now()
	}
	return c.base.Add(time.Duration(c.passed.Load()))
}

// longestStep bounds what a fast clock moves at once. A machine that stalls
// for a moment must not look to the house like hours without a reading.
const longestStep = 2 * time.Second

// run drives a fast clock until ctx ends.
func (c *clock) run(ctx context.Context) {
	ticker := time.NewTicker(time.Millisecond)
	defer ticker.Stop()
	last := time.Now()
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-ticker.C:
			step := time.Duration(float64(now.Sub(last)) * c.speed)
			c.passed.Add(int64(min(step, longestStep)))
			last = now
		}
	}
}

// Real returns how long the machine takes for d of house time, never less
// than a millisecond, below which timers are noise.
func (c *clock) Real(d time.Duration) time.Duration {
	return max(time.Duration(float64(d)/c.speed), time.Millisecond)
}

// Every calls f each d of house time until ctx ends.
func (c *clock) Every(ctx context.Context, d time.Duration, f func(now time.Time)) {
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
