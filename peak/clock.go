package peak

import "time"

// clock turns the times of readings into hours since an origin, which never run
// backwards. Readings with a monotonic time (of the running daemon) do not notice
// a stepped wall clock; in stored ones a step back shows as a row of late readings.
type clock struct {
	last    time.Time // time of the last accepted reading
	hours   float64   // the same on our scale
	period  float64   // usual distance of readings, hours
	late    int       // late readings in a row, each after the one before
	lateRef time.Time
}

// lateLimit is how many late readings in a row, in good order among
// themselves, prove that the clock was set back.
const lateLimit = 5

// advance takes in a reading's time. It returns false for a reading that is
// not after the one before.
func (c *clock) advance(at time.Time) bool {
	if c.last.IsZero() {
		c.last = at
		return true
	}
	dt := at.Sub(c.last).Hours()
	if dt <= 0 {
		if c.late == 0 || !at.After(c.lateRef) {
			c.late = 0
		}
		c.late++
		c.lateRef = at
		if c.late < lateLimit {
			return false
		}
		dt = c.period * lateLimit
	}
	c.late = 0
	if c.period == 0 {
		c.period = min(dt, 1.0/30)
	} else if dt < 4*c.period {
		c.period += (dt - c.period) / 20
	}
	c.hours += dt
	c.last = at
	return true
}

// time returns the wall clock's time at h hours on our scale, as the clock
// goes now.
func (c *clock) time(h float64) time.Time {
	return c.last.Add(time.Duration((h - c.hours) * float64(time.Hour)))
}
