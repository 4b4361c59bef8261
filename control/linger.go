package control

import "time"

// lingerWatch looks for what rule 13 is too coarse to see: a weak mat with its
// switch stuck on, under a heavy vessel, warms it by a degree or two in many
// hours and then holds it there. A room that has become warm looks the same, so
// this is told and keeps nothing off, and only soon after the mat was needed: in
// a summer that needs no mat there is nothing to tell.
type lingerWatch struct {
	heated   bool          // the mat was on since the start
	offSince time.Duration // the pause that the rest is about
	setC     float64       // the highest setpoint of the pause
	since    time.Duration // the beginning of the present look
	sinceC   float64       // and the vessel then
	tells    bool
}

// What makes a vessel linger; guesses, checked on random plants by
// TestWeldedSwitch.
const (
	lingerOff  = halfHour * time.Minute // off for at least this long, and for each look
	lingerEnd  = 14 * time.Hour
	lingerOver = 1.2            // °C above the setpoint
	lingerGone = lingerOver / 2 // °C above the setpoint at which it is over
	lingerFall = 0.1            // °C in one look: it cools, so nothing heats it
)

// look takes in a step of the guard.
func (w *lingerWatch) look(l *limits, s *guardState) {
	if s.on {
		*w = lingerWatch{heated: true}
		return
	}
	c, ok := s.vessel(l)
	off := s.now - s.offSince
	if !w.heated || !ok || s.mode != Hold || off > lingerEnd {
		w.tells = false
		return
	}
	if w.offSince != s.offSince || w.since == 0 {
		*w = lingerWatch{heated: true, offSince: s.offSince, since: s.now, sinceC: c}
	}
	w.setC = max(w.setC, s.setpointC) // a lower one is no reason to be cold at once
	over := c - w.setC
	if over < lingerGone || s.roomExplains(l, c) {
		w.tells = false
	}
	if s.now-w.since < lingerOff {
		return
	}
	cools := c <= w.sinceC-lingerFall
	begins := off >= lingerOff && over >= lingerOver && !s.roomExplains(l, c)
	w.tells = !cools && (w.tells || begins)
	w.since, w.sinceC = s.now, c
}

// roomExplains reports whether the room is known to be about as warm as c.
func (s *guardState) roomExplains(l *limits, c float64) bool {
	room, known := s.mean(l, AtRoom)
	return known && room >= c-1
}
