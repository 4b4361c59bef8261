package notify

import (
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// postForAck posts a notice that is repeated.
func (r *rules) postForAck(note Notice) {
	r.post(nil, r.expectAck(note))
}

// expectAck has a notice repeated until it is acknowledged.
func (r *rules) expectAck(note Notice) Notice {
	note.AckKey = string(note.Kind) + "/" + note.Vessel
	a := &pendingAck{Notice: note, Repeats: map[string]repeatState{}}
	for _, p := range r.people {
		if p.wants(note.Kind) && !p.upkeep(note.Bowl, note.Bake) {
			a.Repeats[p.Name] = repeatState{0, r.now()}
		}
	}
	r.state.PendingAcks[note.AckKey] = a
	r.changed = true
	return note
}

// repeat posts again what is not acknowledged. A repeat waits until the message
// before it is sent, so that an hour without network does not end in a burst.
func (r *rules) repeat(now time.Time) {
	for key, a := range r.state.PendingAcks {
		open := false
		for _, p := range r.people {
			s, told := a.Repeats[p.Name]
			if !told || p.RepeatEvery == 0 || s.Times >= p.Repeats {
				continue
			}
			open = true
			if a.Notice.stale(now) || now.Sub(s.Last) < p.RepeatEvery || !urgent(a.Notice.Kind) && p.quiet(now, r.zone) || r.queuedFor(laneOf(p.Name, a.Notice.Kind), now) {
				continue
			}
			s.Times, s.Last = s.Times+1, now
			a.Repeats[p.Name], r.changed = s, true
			note := a.Notice
			note.Repeat = s.Times
			r.post(onlyTo(p), note)
		}
		if !open && now.Sub(a.Notice.At) > 24*time.Hour {
			delete(r.state.PendingAcks, key)
			r.changed = true
		}
	}
}

// staleAfter is when a peak is not repeated any more.
const staleAfter = 3 * time.Hour

func (n Notice) stale(now time.Time) bool {
	return n.Kind != MatFault && now.Sub(n.At) > staleAfter
}

// queuedFor reports whether a lane has a message waiting, or gets one with the
// next save.
func (r *rules) queuedFor(name string, now time.Time) bool {
	posted := func(r event.Record) bool { return r.To == name }
	return r.queued(name, now) || slices.ContainsFunc(r.posted, posted)
}

// obsolete reports whether a notice is overtaken: the peak that was near has come
// or is expected at another time, the vessel was fed since, or the notice was
// acknowledged.
func (r *rules) obsolete(note Notice, p Recipient) bool {
	if note.Repeat > 0 && r.state.PendingAcks[note.AckKey] == nil {
		return true
	}
	v := r.vessel(note.Vessel)
	switch note.Kind {
	case HeadsUp:
		return v.Called || !v.HeadsUp[p.Name].Equal(note.At)
	case TargetSoon:
		return v.Called || !v.Soon[p.Name]
	case OnTop, AtTarget, Falling:
		return !v.Called // it was fed since
	case FeedDue:
		return !v.FeedDue.Equal(note.At)
	case PlanStep:
		return r.planObsolete(note)
	}
	return false
}
