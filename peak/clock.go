package peak

import "time"

// clock turns the times of readings into hours since an origin, which never run
// backwards. Readings with a monotonic time (of the running daemon) do not notice
// a stepped wall clock; in stored ones a step back shows as a row of late readings.
type clock struct {
	last    time.Time // time of the last accepted reading
	hours   float64   // the same on our scale
	marked  bool      // last is the time of a mark, from which no distance of readings is learnt
	period  float64   // usual distance of readings, hours; 0 before two have come
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
		if !at.After(c.lateRef) {
			c.late = 0
		}
		c.late, c.lateRef = c.late+1, at
		if c.late < lateLimit {
			return false
		}
		dt = c.period * lateLimit
	}
	c.late = 0
	switch {
	case c.marked:
		c.marked = false
	case c.period == 0:
		c.period = min(dt, 1.0/30)
	default: // one long gap counts little, and a lasting change is followed
		c.period += (min(dt, 4*c.period) - c.period) / 20
	}
	c.hours += dt
	c.last = at
	return true
}

// mark moves to the time of a mark of the baker's, anywhere between two readings.
// The reading that comes with it has the same time and must not count as late.
func (c *clock) mark(at time.Time) {
	if dt := at.Sub(c.last); !c.last.IsZero() {
		if dt <= 0 {
			return
		}
		c.hours += dt.Hours()
	}
	c.last, c.marked = at.Add(-time.Nanosecond), true
}

// time returns the wall clock's time at h hours on our scale, as the clock
// goes now.
func (c *clock) time(h float64) time.Time {
	return c.last.Add(time.Duration((h - c.hours) * float64(time.Hour)))
}
