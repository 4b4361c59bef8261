package control

import "time"

// evidence is what the model says at one moment. The guard does not know how
// it was found, and keeps its limits whatever it says.
type evidence uint8

// What there may be evidence of.
const (
	answers  evidence = 1 << iota // the probe answers to the heat
	deaf                          // it does not, though heat was given
	spent                         // the energy given would have brought the vessel far above its setpoint
	agrees                        // energy and reading agree
	moved                         // the reading leapt, as when a probe falls, and has not answered since
	due                           // the heat since the last answer would show by now
	likelier                      // an answer is likelier than none
)

// phase is where the guard is between belief and doubt.
type phase uint8

// The phases.
const (
	heats phase = iota // heat is allowed
	looks              // it is off for some minutes, to see whether the probe answers
	rests              // it did not answer: the heat has ended and the baker is asked
)

// doubt is the guard's memory of whether the probe answers to the heat.
type doubt struct {
	on    time.Duration // on-time since it last did
	phase phase
	until time.Duration // the end of the look or the rest
	tries int           // looks without an answer, which may be bad luck
	fails int           // rests in a row, counted up to mostFails
	spent bool          // energy and reading disagreed, and do not agree again
	wary  time.Duration // until when each look must be answered again, after a doubt
	past  int           // rests before that
}

// mostTries is how many looks without an answer end the heat at the latest.
const mostTries = 2

// mostFails is how often in a row a rest grows: to 1, 2, 4 and 8 times DoubtRest
// (guess).
const mostFails = 4

// doubtful reports whether a look without an answer ends the heat.
func (d *doubt) doubtful(now time.Duration) bool { return d.fails > 0 || d.tries > 0 || now < d.wary }

// allowed is the on-time without an answer before a look: only that of a trial
// after a look or a rest, and after a leap of the reading. What warms its vessel
// sooner is due sooner.
func (d *doubt) allowed(l *limits, now time.Duration, said evidence) time.Duration {
	if d.doubtful(now) || said&moved != 0 {
		return min(l.Trial, l.GainTime)
	}
	return l.GainTime
}

// answered ends a doubt. After one, each look must be answered for a while.
func (d *doubt) answered(l *limits, now time.Duration, said evidence) {
	was := *d
	*d = doubt{spent: was.spent && said&agrees == 0, wary: was.wary, past: was.past}
	if was.fails > 0 {
		d.wary, d.past = now+waryRests*l.DoubtRest, was.fails
	}
	if now >= d.wary {
		d.wary, d.past = 0, 0
	}
}

// waryRests is for how many times DoubtRest an answer after a rest must be
// given again to each look (guess).
const waryRests = 3

// judge ends a look that went without a sure answer. Contents that were just
// fed hide one pulse: as long as the odds are open, a leap is tried once more.
// After a rest nothing but a sure answer counts.
func (d *doubt) judge(l *limits, now time.Duration, said evidence, asks bool) {
	fresh := d.fails == 0 && now >= d.wary
	open := fresh && said&moved != 0 && said&deaf == 0 && d.tries < mostTries
	switch {
	case fresh && said&likelier != 0:
		d.answered(l, now, said)
	case asks && d.doubtful(now) && !open:
		d.fail(l, now)
	case asks && d.doubtful(now):
		d.phase, d.on, d.tries = heats, 0, mostTries
	default:
		d.phase, d.on, d.tries = heats, 0, 1
	}
}

// fail ends the heat for a rest.
func (d *doubt) fail(l *limits, now time.Duration) {
	d.fails, d.tries, d.wary, d.past = min(max(d.fails, d.past)+1, l.mostFails), 0, 0, 0
	d.phase, d.until = rests, now+l.DoubtRest<<(d.fails-1)
}

// watchDoubt is rule 6. A probe in a vessel answers to heat that begins and
// to heat that ends; room air, a reading that stands still and a mat without
// power do not.
func watchDoubt(l *limits, s *guardState, e event) {
	d := &s.doubt
	c, ok := s.vessel(l)
	asks := ok && c < s.setpointC // what reads warm enough asks for nothing
	said := evidence(0)
	if e.kind == evWish {
		said = e.said
	}
	switch {
	case said&spent != 0:
		d.spent = true
		if d.phase != rests {
			d.phase, d.until = rests, s.now
		}
		d.until = max(d.until, s.now+l.MinOff)
	case said&answers != 0 && (d.phase == looks || d.phase == heats && s.now >= d.wary):
		d.answered(l, s.now, said)
	case d.phase == heats && (said&due != 0 || d.on >= d.allowed(l, s.now, said) || said&deaf != 0 && d.on >= min(l.Trial/2, d.allowed(l, s.now, said))):
		d.phase, d.until = looks, s.now+l.Look
		if said&moved != 0 {
			d.tries = max(d.tries, 1)
		}
	case d.phase == heats && d.tries > 0 && asks && said&deaf != 0 && s.now >= d.until+l.Look:
		d.fail(l, s.now) // it reads too cold, and wants no heat to show why
	case d.phase == looks && s.now >= d.until && e.kind == evWish:
		d.judge(l, s.now, said, asks)
	case d.phase == rests && s.now >= d.until:
		d.phase, d.on = heats, 0
	}
}

// blockDoubt is the rest of rule 6.
func blockDoubt(_ *limits, s *guardState, _ event) Reason {
	switch s.doubt.phase {
	case looks:
		return ReasonLooking
	case rests:
		return ReasonNoGain
	}
	return ""
}

// stuckWatch follows whether a vessel stays hot without heat (rule 13).
type stuckWatch struct {
	armed bool
	since time.Duration // it has been hot without a break
	topC  float64       // and this hot at most
}

// stuckFallC is by how much a vessel has cooled that nothing heats, °C (guess).
const stuckFallC = 0.5

// watchStuck is rule 13: a vessel that stays hotter than any kitchen, hours
// after the mat was told off, is heated by a switch that is stuck. What is less
// hot than that does no harm, and sun or a warm room do it too; it is told by
// lingerWatch and latches nothing.
func watchStuck(l *limits, s *guardState, e event) {
	w := &s.stuck
	if s.on {
		*w = stuckWatch{}
		return
	}
	c, ok := s.vessel(l)
	room, known := s.mean(l, AtRoom)
	switch {
	case e.kind != evReading || !ok:
	case c < l.StuckC || c < s.setpointC+1 || known && room >= c-1:
		*w = stuckWatch{}
	case !w.armed || c < w.topC-stuckFallC:
		*w = stuckWatch{armed: true, since: s.now, topC: c}
	default:
		w.topC = max(w.topC, c)
		if s.now-max(w.since, s.offSince) >= l.StuckAfter {
			s.latched |= latchStuckOn
		}
	}
}
