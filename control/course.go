package control

import (
	"math"
	"time"
)

// longestCourse is how long a course holds without being renewed.
const longestCourse = time.Hour

// detour is a setpoint that goes before the schedule and the baker's own, for
// a while. It ends by itself, so that whoever steers to an hour and falls
// silent leaves nothing behind.
type detour struct {
	setpointC float64
	until     time.Duration
}

// SetCourse asks for a setpoint for so long, an hour at most; 0 °C ends a
// course. It is held to the same limits as every setpoint.
func (m *Mat) SetCourse(now time.Time, c float64, hold time.Duration) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	defer m.onPanic()
	if c != 0 {
		if err := m.lim.checkSetpoint(c); err != nil {
			return err
		}
	}
	m.detour = detour{c, m.since(now) + min(max(hold, 0), longestCourse)}
	m.follow(now)
	m.do(now, m.wish())
	return nil
}

// asks returns the setpoint while it holds.
func (d detour) asks(at time.Duration) (float64, bool) {
	return d.setpointC, d.setpointC > 0 && !math.IsNaN(d.setpointC) && at < d.until
}
