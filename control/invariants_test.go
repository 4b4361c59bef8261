package control

import (
	"fmt"
	"math"
	"time"
)

// transition is one step of the guard, as a witness sees it.
type transition struct {
	before guardState
	event  event
	now    time.Duration // the time that was passed in
	after  guardState
	cmd    command
}

// invariant is one numbered promise about every transition. It is written
// against what was promised, not against how the guard keeps it.
type invariant struct {
	n     int
	name  string
	check func(l *limits, t *transition) bool
}

// invariants returns the sixteen, less 15, which is about the world around
// the guard and has a test of its own.
func invariants() []invariant {
	return []invariant{
		{1, "on rests on fresh readings of every probe relied on", onIsFresh},
		{2, "at a cutoff off within one step, and no setpoint near one", offAtCutoff},
		{3, "an impossible value never becomes a reading", onlyBelievable},
		{4, "every on is a lease of at most L, and ends with it", onIsALease},
		{5, "no on beyond the longest on or the duty, and a rest after it", onIsBounded},
		{6, "heat ends that the probe does not answer", answerIsDemanded},
		{7, "what is latched stays until acknowledged, and keeps off", latchedStaysOff},
		{8, "the first on needs N good readings", onNeedsGoodReadings},
		{9, "pauses and cycles are served", pausesAreServed},
		{10, "time that goes back changes nothing", timeOnlyForward},
		{11, "off beats on", offBeatsOn},
		{12, "a failed write means on, and off is tried again", unknownIsRetried},
		{13, "hot for long while off latches", stuckIsTold},
		{14, "probes that disagree keep off", disagreeIsOff},
		{16, "a failure never switches on", failureNeverHeats},
	}
}

// violated returns the first invariant that a transition breaks.
func violated(l *limits, all []invariant, t *transition) error {
	for _, v := range all {
		if !v.check(l, t) {
			return &broken{v.n, fmt.Errorf("invariant %d (%s) broken by %+v at %s\nbefore %+v\nafter  %+v\ncommand %+v", v.n, v.name, t.event, t.now, t.before, t.after, t.cmd)}
		}
	}
	return nil
}

// broken says which invariant did not hold.
type broken struct {
	n int
	error
}

func onIsFresh(l *limits, t *transition) bool {
	if !t.cmd.on {
		return true
	}
	vessel := false
	for i := range t.after.probes {
		p := &t.after.probes[i]
		if !p.relied {
			continue
		}
		age := t.after.now - p.at
		if !p.has || age >= l.Stale || t.cmd.lease > l.Stale-age {
			return false
		}
		vessel = vessel || p.place == AtVessel
	}
	return vessel
}

func offAtCutoff(l *limits, t *transition) bool {
	if t.cmd.on && t.after.setpointC > math.Min(l.VesselCutoffC, l.MatCutoffC)-2 {
		return false
	}
	if t.event.kind != evReading {
		return true
	}
	p := t.after.probes[t.event.probe]
	limit := l.VesselCutoffC
	switch p.place {
	case AtMat:
		limit = l.MatCutoffC
	case AtRoom:
		return true
	}
	if !(t.event.tempC >= limit) {
		return true
	}
	accepted := p.has && p.at == t.after.now && p.tempC == t.event.tempC
	return !t.cmd.on && !(accepted && t.after.latched == 0)
}

func onlyBelievable(l *limits, t *transition) bool {
	for i := range t.after.probes {
		a, b := &t.after.probes[i], &t.before.probes[i]
		if a.odd && (a.oddAt != b.oddAt || a.oddC != b.oddC) && (t.event.kind != evReading || t.event.probe != i || a.oddC != t.event.tempC || a.oddAt != t.after.now) {
			return false // only what was heard can agree with what is heard
		}
		if a.at == b.at && a.tempC == b.tempC && a.has == b.has {
			continue
		}
		v := t.event.tempC
		if t.event.kind != evReading || t.event.probe != i || a.tempC != v || a.at != t.after.now {
			return false
		}
		if math.IsNaN(v) || math.IsInf(v, 0) || v == 85 || v == 127.94 || v < -10 || v > 80 {
			return false
		}
		far := func(was float64, at time.Duration) bool {
			return math.Abs(v-was) > 1+l.MaxSlopeC*math.Min((t.after.now-at).Seconds(), 20)
		}
		if b.has && far(b.tempC, b.at) && !(b.odd && t.after.now-b.oddAt < l.Stale && !far(b.oddC, b.oddAt)) {
			return false
		}
	}
	return true
}

func onIsALease(l *limits, t *transition) bool {
	if t.before.on && t.after.now >= t.before.leaseEnd && t.cmd.on {
		return false
	}
	if !t.cmd.on {
		return !t.after.on && (!t.before.on || t.cmd.write)
	}
	// Without a write the output still lives on an earlier lease.
	end := t.before.leaseEnd
	if t.cmd.write {
		end = t.after.now + t.cmd.lease
	}
	return t.cmd.lease > 0 && t.cmd.lease <= l.Lease && t.after.leaseEnd == end && end > t.after.now
}

func onIsBounded(l *limits, t *transition) bool {
	var on time.Duration
	for _, b := range t.after.onTime {
		on += b
	}
	run := t.before.run
	if took := max(t.after.now-t.before.now, 0); t.before.on || t.before.unknown {
		run += took
	} else if run -= time.Duration(float64(took) * float64(l.MaxOn) / float64(l.Rest)); t.after.run < run {
		return false // a pause pays back no more than its share of a rest
	}
	ran := t.before.on && run >= l.MaxOn
	if ran && (t.cmd.on || !t.after.resting && l.Rest > 0) {
		return false
	}
	if !t.cmd.on {
		return true
	}
	window := time.Duration(l.buckets) * l.bucket
	tired := t.before.resting && t.after.now < t.before.restEnd
	return !tired && t.cmd.lease <= l.MaxOn-run && float64(on) < l.MaxDuty*float64(window)
}

// answerIsDemanded holds the guard to what was promised of the heat, whatever
// the model says: at most GainTime of on-time without an answer, Trial after a
// look or a rest; then off for the whole look or rest, unless there is an answer.
func answerIsDemanded(l *limits, t *transition) bool {
	b, a := t.before.doubt, t.after.doubt
	on := b.on
	if t.before.on {
		on += max(min(t.after.now, t.before.leaseEnd)-t.before.now, 0)
	}
	said := evidence(0)
	if t.event.kind == evWish {
		said = t.event.said
	}
	wary := t.after.now < b.wary // heat that goes on is no answer then, only a look's end is
	answered := said&answers != 0 && said&spent == 0 && b.phase != rests && !(wary && b.phase == heats) ||
		said&likelier != 0 && said&spent == 0 && b.phase == looks && t.after.now >= b.until && b.fails == 0 && !wary // a look's end asks what is likelier
	free := t.event.kind == evAck && t.after.latched == 0 || answered
	most := l.GainTime
	if b.fails > 0 || b.tries > 0 || wary || said&moved != 0 {
		most = min(l.Trial, l.GainTime)
	}
	switch {
	case t.cmd.on && (a.phase != heats || said&spent != 0):
		return false
	case t.cmd.on && !free && b.phase == heats && (on >= most || said&due != 0):
		return false // more heat without an answer than was promised
	case !free && b.phase == heats && (a.on < on || a.fails < b.fails || a.tries < b.tries && a.phase != rests):
		return false // on-time without an answer is never forgotten
	case !free && b.phase != heats && a.phase == heats && t.after.now < b.until:
		return false // a look or a rest was cut short
	case b.phase == heats && a.phase == looks && a.until < t.after.now+l.Look:
		return false
	case b.phase != rests && a.phase == rests && said&spent == 0 && a.until < t.after.now+l.DoubtRest<<(a.fails-1):
		return false
	case b.phase == looks && a.phase == heats && !free && a.tries != 1 && !(a.tries == 2 && b.tries < 2 && b.fails == 0 && said&moved != 0):
		return false
	case b.phase == looks && a.phase == heats && !free && wary && a.tries != 2 && t.after.vesselBelow(l):
		return false
	case b.fails > 0 && a.fails == 0 && !(t.event.kind == evAck && t.after.latched == 0) && (a.past != b.fails || a.wary < t.after.now+waryRests*l.DoubtRest):
		return false // a doubt that was answered is not forgotten at once
	}
	return b.spent == a.spent || !b.spent && said&spent != 0 || b.spent && free
}

// vesselBelow reports whether the vessel reads below its setpoint.
func (s *guardState) vesselBelow(l *limits) bool { c, ok := s.vessel(l); return ok && c < s.setpointC }

func latchedStaysOff(_ *limits, t *transition) bool {
	lost := t.before.latched &^ t.after.latched
	if lost != 0 && t.event.kind != evAck {
		return false
	}
	return t.after.latched == 0 || !t.cmd.on
}

func onNeedsGoodReadings(l *limits, t *transition) bool {
	if t.after.closed && t.cmd.on || !t.before.started && t.cmd.on {
		return false
	}
	for i := range t.after.probes {
		p, b := &t.after.probes[i], &t.before.probes[i]
		if p.good > b.good && (t.event.kind != evReading || t.event.probe != i || p.good != b.good+1 || p.at != t.after.now) {
			return false
		}
		if t.event.kind == evFailed && t.event.probe == i && p.good != 0 {
			return false
		}
		if t.cmd.on && !t.before.on && p.relied && p.good < l.GoodReadings {
			return false
		}
	}
	return true
}

func pausesAreServed(l *limits, t *transition) bool {
	if t.before.on && !t.after.on && t.after.offSince != t.after.now {
		return false
	}
	if !t.before.started && t.after.offSince != t.after.now {
		return false
	}
	if !t.cmd.on || t.before.on {
		return true
	}
	return t.after.now-t.before.offSince >= l.MinOff && (!t.before.everOn || t.after.now-t.before.lastOn >= l.cycle)
}

func timeOnlyForward(l *limits, t *transition) bool {
	if !t.before.started {
		return true
	}
	want := max(t.now, t.before.now)
	return t.after.now == want
}

func offBeatsOn(_ *limits, t *transition) bool { return t.after.mode == Hold || !t.cmd.on }

func unknownIsRetried(_ *limits, t *transition) bool {
	if t.event.kind == evWriteFailed && !t.after.unknown {
		return false
	}
	if t.before.unknown && !t.after.unknown && t.event.kind != evWrote {
		return false
	}
	return !t.after.unknown || !t.cmd.on && t.cmd.write
}

func stuckIsTold(l *limits, t *transition) bool {
	c, ok := t.after.vessel(l)
	room, known := t.after.mean(l, AtRoom)
	hot := ok && c >= l.StuckC && c >= t.after.setpointC+1 && !(known && room >= c-1)
	if t.event.kind != evReading || t.before.on || t.after.on || !hot {
		return t.event.kind == evAck || t.after.latched&^t.before.latched&latchStuckOn == 0
	}
	w := t.before.stuck
	if !w.armed || c < w.topC-0.5 {
		return t.after.stuck.armed && t.after.stuck.since == t.after.now
	}
	long := t.after.now-w.since >= l.StuckAfter && t.after.now-t.after.offSince >= l.StuckAfter
	return long == (t.after.latched&latchStuckOn != 0) || t.before.latched&latchStuckOn != 0
}

func disagreeIsOff(l *limits, t *transition) bool {
	for i := range t.after.probes {
		for j := range i {
			a, b := &t.after.probes[i], &t.after.probes[j]
			if a.relied && b.relied && a.has && b.has && a.place == b.place && math.Abs(a.tempC-b.tempC) > l.DisagreeC && t.cmd.on {
				return false
			}
		}
	}
	return true
}

func failureNeverHeats(_ *limits, t *transition) bool {
	return t.event.kind != evFailed || t.before.on || !t.after.on
}
