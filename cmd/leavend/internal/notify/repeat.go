package notify

import (
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// askAndPost posts a notice that is repeated.
func (r *rules) askAndPost(note Notice) {
	r.post(nil, r.ask(note))
}

// ask has a notice repeated until it is acknowledged.
func (r *rules) ask(note Notice) Notice {
	note.Ask = string(note.Kind) + "/" + note.Vessel
	a := &ask{Notice: note, Said: map[string]said{}}
	for _, p := range r.people {
		if p.wants(note.Kind) && !p.upkeep(note.Bowl, note.Bake) {
			a.Said[p.Name] = said{0, r.now()}
		}
	}
	r.state.Asks[note.Ask] = a
	r.changed = true
	return note
}

// repeat posts again what is not acknowledged. A repeat waits until the message
// before it is sent, so that an hour without network does not end in a burst.
func (r *rules) repeat(now time.Time) {
	for key, a := range r.state.Asks {
		open := false
		for _, p := range r.people {
			s, told := a.Said[p.Name]
			if !told || p.RepeatEvery == 0 || s.Times >= p.Repeats {
				continue
			}
			open = true
			if a.Notice.stale(now) || now.Sub(s.Last) < p.RepeatEvery || !a.Notice.Kind.urgent() && p.quiet(now, r.zone) || r.queuedFor(laneOf(p.Name, a.Notice.Kind), now) {
				continue
			}
			s.Times, s.Last = s.Times+1, now
			a.Said[p.Name], r.changed = s, true
			note := a.Notice
			note.Repeat = s.Times
			r.post(only(p), note)
		}
		if !open && now.Sub(a.Notice.At) > 24*time.Hour {
			delete(r.state.Asks, key)
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
	if note.Repeat > 0 && r.state.Asks[note.Ask] == nil {
		return true
	}
	v := r.vessel(note.Vessel)
	switch note.Kind {
	case HeadsUp:
		return v.Topped || !v.HeadsUp[p.Name].Equal(note.At)
	case TargetSoon:
		return v.Topped || !v.Soon[p.Name]
	case OnTop, AtTarget, Falling:
		return !v.Topped // it was fed since
	case FeedDue:
		return !v.FeedDue.Equal(note.At)
	case PlanStep:
		return r.planObsolete(note)
	}
	return false
}
