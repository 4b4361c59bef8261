package control

import (
	"math"
	"time"
)

// rule is one of the guard's sixteen, in up to four parts. Judge decides
// whether a value may become a reading. Watch sees every event and may latch
// a fault. Block answers with a reason when heat is not allowed; blocks are
// asked in order and the first answer is the one the user reads. Cap bounds
// the lease, so that an output left alone keeps the rule too.
type rule struct {
	n     int
	name  string
	judge func(*limits, *probe, float64, time.Duration) bool
	watch func(*limits, *guardState, event)
	block func(*limits, *guardState, event) Reason
	cap   func(*limits, *guardState) time.Duration
}

// allRules returns the guard's rules. Rules 10 and 15 are not here: time only
// moves forward in advance, and nothing in this package waits for storage,
// broker, page or notifier.
func allRules() []rule {
	return []rule{
		{n: 3, name: "an impossible value is no reading", judge: believable},
		{n: 2, name: "at a cutoff the mat goes off and stays off", watch: watchCutoff},
		{n: 6, name: "heat that the probe does not answer ends", watch: watchDoubt, block: blockDoubt},
		{n: 13, name: "told off but heating is a fault", watch: watchStuck},
		{n: 7, name: "a latched fault keeps off until acknowledged", watch: watchAck, block: blockLatched},
		{n: 12, name: "a failed write means on", watch: watchWrites, block: blockUnknown},
		{n: 11, name: "off beats on", block: blockMode},
		{n: 1, name: "on only on a fresh reading", block: blockStale, cap: capStale},
		{n: 8, name: "the first on needs good readings", block: blockFewReadings},
		{n: 2, name: "what looks too hot, or a setpoint near a cutoff, blocks", block: blockHot},
		{n: 14, name: "probes that disagree block", block: blockDisagree},
		{n: 5, name: "longest on, greatest duty and the budget of energy", watch: watchRest, block: blockTooLong, cap: capTooLong},
		{n: 4, name: "every on is a lease", block: blockLapsed, cap: capLease},
		{n: 9, name: "minimum off-time and on-switches an hour", block: blockMinOff},
		{n: 16, name: "a failed read never switches on", block: blockFailure},
	}
}

// Two temperatures a DS18B20 reports when it has not measured: after power-on
// (data sheet, table 1 and "power-on reset value") and as the sign of a
// brown-out seen by Linux (w1_therm documentation).
const (
	powerOnC  = 85.000
	brownOutC = 127.94
)

// Believable temperatures in a kitchen, °C.
const (
	lowestC  = -10
	highestC = 80
)

// believable is rule 3: it judges one value against physics and against the
// last reading. What no vessel does in the time may be a probe that was moved:
// it is believed when a second value agrees.
func believable(l *limits, p *probe, c float64, now time.Duration) bool {
	return possible(c) && (!p.has || l.follows(p.tempC, p.at, c, now) || p.odd && now-p.oddAt < l.Stale && l.follows(p.oddC, p.oddAt, c, now))
}

// possible reports whether a kitchen may have c and a sensor means it.
func possible(c float64) bool {
	return c >= lowestC && c <= highestC && c != powerOnC && math.Abs(c-brownOutC) >= 0.01
}

// longestSlope is for how long a temperature may have moved unseen, so that a
// gap of the bus does not let everything pass (guess).
const longestSlope = 20 * time.Second

// follows reports whether a temperature can have gone from one to the other.
func (l *limits) follows(was float64, at time.Duration, c float64, now time.Duration) bool {
	return math.Abs(c-was) <= 1+l.MaxSlopeC*min(now-at, longestSlope).Seconds()
}

// cutoffOf returns the cutoff of a place; a room has none.
func cutoffOf(l *limits, at Place) float64 {
	switch at {
	case AtVessel:
		return l.VesselCutoffC
	case AtMat:
		return l.MatCutoffC
	}
	return math.Inf(1)
}

// watchCutoff is rule 2: at or over a cutoff the fault latches.
func watchCutoff(l *limits, s *guardState, e event) {
	if e.kind != evReading {
		return
	}
	p := &s.probes[e.probe]
	if !p.has || p.at != s.now || p.tempC < cutoffOf(l, p.place) {
		return
	}
	if p.place == AtMat {
		s.latched |= latchMatCutoff
	} else {
		s.latched |= latchVesselCutoff
	}
}

// blockHot is the rest of rule 2: a value that was not accepted but looks too
// hot takes permission away until a good one comes, and a setpoint may not
// lie near a cutoff.
func blockHot(l *limits, s *guardState, _ event) Reason {
	for i := range s.probes {
		if s.probes[i].hot {
			return ReasonSuspect
		}
	}
	if s.setpointC > l.topSetpoint() {
		return ReasonSetpoint
	}
	return ""
}

// blockStale is rule 1: every probe relied on must have spoken lately. One
// that has not spoken yet is waited for, and called silent only when it is
// late.
func blockStale(l *limits, s *guardState, _ event) Reason {
	waiting := Reason("")
	for i := range s.probes {
		p := &s.probes[i]
		switch {
		case p.relied && s.now-p.at >= l.Stale:
			return ReasonStale
		case p.relied && !p.has:
			waiting = ReasonFewReadings
		}
	}
	if _, ok := s.vessel(l); !ok && waiting == "" {
		return ReasonStale
	}
	return waiting
}

// capStale ends the lease when a reading it rests on grows stale.
func capStale(l *limits, s *guardState) time.Duration {
	d := l.Stale
	for i := range s.probes {
		if p := &s.probes[i]; p.relied && p.has {
			d = min(d, p.at+l.Stale-s.now)
		}
	}
	return d
}

// blockFewReadings is rule 8: to switch on, each probe relied on must have
// given several good readings in a row. To stay on, rule 1 is enough.
func blockFewReadings(l *limits, s *guardState, _ event) Reason {
	if s.on {
		return ""
	}
	vessel := false
	for i := range s.probes {
		p := &s.probes[i]
		if p.relied && p.good < l.GoodReadings {
			return ReasonFewReadings
		}
		vessel = vessel || p.relied && p.place == AtVessel
	}
	if !vessel {
		return ReasonFewReadings
	}
	return ""
}

// watchAck is the way out of rule 7: an acknowledgement clears what is
// latched, unless a probe was close to its cutoff when it was last heard.
func watchAck(l *limits, s *guardState, e event) {
	if e.kind != evAck || s.tooHotToAck(l, math.MaxInt64) {
		return
	}
	s.latched, s.doubt, s.stuck = 0, doubt{}, stuckWatch{}
	for i := range s.probes {
		s.probes[i].good = 0
	}
}

// tooHotToAck reports whether a cutoff would trip again at once, by what was
// heard within age.
func (s *guardState) tooHotToAck(l *limits, age time.Duration) bool {
	for i := range s.probes {
		p := &s.probes[i]
		if p.hot || p.has && s.now-p.at < age && p.tempC > cutoffOf(l, p.place)-SetpointMarginC {
			return true
		}
	}
	return false
}

// blockLatched is rule 7.
func blockLatched(_ *limits, s *guardState, _ event) Reason {
	if s.latched != 0 {
		return ReasonFault
	}
	return ""
}

// watchWrites is rule 12: after a write that failed the mat counts as on, and
// its off-time begins when an off is known to have arrived.
func watchWrites(_ *limits, s *guardState, e event) {
	switch {
	case e.kind == evWriteFailed:
		s.unknown = true
	case e.kind == evWrote && s.unknown && !s.on:
		s.unknown, s.offSince = false, s.now
	}
}

// blockUnknown keeps off while it is unknown what the output does.
func blockUnknown(_ *limits, s *guardState, _ event) Reason {
	if s.unknown {
		return ReasonOutput
	}
	return ""
}

// blockMode is rule 11: whatever else was asked, off is off.
func blockMode(_ *limits, s *guardState, _ event) Reason {
	if s.mode != Hold {
		return ReasonMode
	}
	return ""
}

// blockDisagree is rule 14.
func blockDisagree(l *limits, s *guardState, _ event) Reason {
	for i := range s.probes {
		for j := range i {
			a, b := &s.probes[i], &s.probes[j]
			if a.relied && b.relied && a.has && b.has && a.place == b.place &&
				a.place != AtRoom && math.Abs(a.tempC-b.tempC) > l.DisagreeC {
				return ReasonDisagree
			}
		}
	}
	return ""
}

// watchRest is rule 5's memory: after the longest on comes a rest. The longest on is over when what is left of
// it is no lease any more, for then the mat goes off.
func watchRest(l *limits, s *guardState, _ event) {
	if s.on && capMaxOn(l, s) < shortestLease {
		s.resting, s.restEnd = true, s.now+l.Rest
	}
	if s.resting && s.now >= s.restEnd {
		s.resting = false
	}
}

// blockTooLong is rule 5.
func blockTooLong(l *limits, s *guardState, _ event) Reason {
	window := time.Duration(l.buckets) * l.bucket
	switch {
	case s.resting:
		return ReasonRest
	case float64(s.dutyOn(l)) >= l.MaxDuty*float64(window):
		return ReasonDuty
	case s.overBudget(l):
		return ReasonBudget
	}
	return ""
}

// capTooLong is the cap of rule 5.
func capTooLong(l *limits, s *guardState) time.Duration {
	return min(capMaxOn(l, s), capBudget(l, s))
}

// capMaxOn ends the lease when the longest on is reached. Short pauses, as a
// silent probe or a restart makes them, count as the share of a rest that they
// are.
func capMaxOn(l *limits, s *guardState) time.Duration { return l.MaxOn - s.run }

// capLease is rule 4: no permission is longer than this.
func capLease(l *limits, _ *guardState) time.Duration { return l.Lease }

// blockLapsed is rule 4 seen from here: when nothing stepped until the lease
// ran out, the output has let go, and that counts as off.
func blockLapsed(_ *limits, s *guardState, _ event) Reason {
	if s.on && s.now >= s.leaseEnd {
		return ReasonLapsed
	}
	return ""
}

// blockMinOff is rule 9: relays and mats need pauses, after a restart too.
func blockMinOff(l *limits, s *guardState, _ event) Reason {
	if s.on {
		return ""
	}
	if s.now-s.offSince < l.MinOff || s.everOn && s.now-s.lastOn < l.cycle {
		return ReasonMinOff
	}
	return ""
}

// blockFailure is rule 16: the failure of any sensor, of distance or of
// temperature, is never the moment to switch on.
func blockFailure(_ *limits, s *guardState, e event) Reason {
	if e.kind == evFailed && !s.on {
		return ReasonStale
	}
	return ""
}
