package store

import (
	"crypto/rand"
	"time"
)

// processClock counts time since the process started. It serves where the
// kernel names no boot.
func processClock() Clock {
	return runClock{began: time.Now(), boot: "run " + rand.Text()}
}

type runClock struct {
	began time.Time
	boot  string
}

func (c runClock) Now() time.Time        { return time.Now() }
func (c runClock) Uptime() time.Duration { return time.Since(c.began) }
func (c runClock) Boot() string          { return c.boot }
func (c runClock) Synced() bool          { return false }
