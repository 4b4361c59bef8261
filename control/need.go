package control

import "math"

// need compares what the vessel needs with what it needed when it had arrived
// at its setpoint. A probe that drifts, and whatever else reads too cold, asks
// for more heat from hour to hour, and where that heat has brought the vessel
// can be reckoned without the probe.
type need struct {
	since float64 // minutes since the arrival; 0 before it
	was   float64 // the share of full power that held it at c
	c     float64
	set   float64 // the highest setpoint since
	roomC float64 // of a probe in the room, if one tells
	slow  float64 // the same over half an hour
	used  float64 // the share that was given, over the time in which the vessel forgets it
	more  float64 // what is needed more than then, as the fall of the room that would explain it, K
	wary  bool    // they disagreed, and do not agree again
	gap   float64 // how far the heat given has lifted it above its reading, °C
}

// A room may cool as fast as it likes (a window, a sill): what takes minutes
// is no drift of a probe. It may also cool slowly, but then not far (guesses).
// Mats lift soil by 15 to 20 °F, 8 to 11 K (a garden supplier's guide).
const (
	reachC        = 11
	slowMinutes   = halfHour
	settleMinutes = 2 * halfHour // after the arrival, before more is called more
	easeMinutes   = 3 * halfHour // in which a smaller need becomes the reference
	idleShare     = 0.05
)

// arrive begins the comparison, once.
func (m *model) arrive() {
	if m.need.since == 0 && m.given {
		m.need = need{since: 1e-9}
	}
}

// note takes in dt minutes.
func (m *model) note(dt float64) {
	n := &m.need
	if n.since == 0 {
		return
	}
	var c, b, share float64
	m.believed(func(v view, w float64) {
		c, b = c+w*v.c, b+w*v.b
		share -= w * v.drift(v.c, m.t0) / v.b
	})
	if n.since < 1e-6 {
		n.slow, n.used = share, clamp(share, 0, 1)
	}
	n.since += dt
	forget := 1 - math.Exp(-dt*b/reachC)
	u := 0.0
	if m.on {
		u = 1
	}
	if n.used += (u - n.used) * forget; n.used < idleShare && n.since > settleMinutes && !n.wary {
		*n = need{} // where no heat was given, none has gone astray
		return
	}
	n.slow += (share - n.slow) * (1 - math.Exp(-dt/slowMinutes))
	// What was needed then, at the temperature now and the same room.
	was := n.was + (c-n.c)/reachC
	switch {
	case n.since < settleMinutes:
		was = n.slow
	case m.roomOK && n.roomC != 0:
		was += (n.roomC - m.roomC) / reachC // nothing has to be guessed
	case share > was && share-n.slow > farC/reachC && !n.wary:
		was = share
	case share < was && m.contact > 0 && !n.wary:
		was += (share - was) * (1 - math.Exp(-dt/easeMinutes))
	}
	n.was, n.c, n.roomC = was, c, 0
	if m.roomOK {
		n.roomC = m.roomC
	}
	n.more = (share - was) * reachC
	n.gap = clamp(n.gap+forget*(n.more-n.gap), 0, n.used*reachC)
}
