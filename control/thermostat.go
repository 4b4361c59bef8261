package control

import "time"

// thermostat says what it would like; it never switches anything.
type thermostat struct {
	halfC float64 // half width of the band
	wish  bool
	why   Reason
}

// update decides the wish for a vessel at c with the setpoint set. Plain
// hysteresis is the law: on below the band, off above it, and between the two
// the last wish stays.
func (t *thermostat) update(_ time.Duration, c, set float64) {
	switch {
	case c < set-t.halfC:
		t.wish, t.why = true, ReasonBelow
	case c > set+t.halfC:
		t.wish, t.why = false, ReasonAbove
	case !t.wish:
		t.why = ReasonWithin
	}
}

// lost forgets the wish: there is no temperature to go by.
func (t *thermostat) lost() { t.wish, t.why = false, ReasonUnknown }
