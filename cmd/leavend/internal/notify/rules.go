package notify

import (
	"encoding/json"
	"math"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// rules decide which notices follow from what happened, and what is repeated
// until it is acknowledged. They know no disk and no network; the Notifier
// guards them with its lock, saves what they changed, and puts what they posted
// into the log.
type rules struct {
	people []Recipient
	now    func() time.Time
	zone   *time.Location
	queued func(lane string, now time.Time) bool // reports whether a lane has a message waiting

	state   state
	changed bool           // the state is to be saved
	posted  []event.Record // go to the log with the next save
}

// apply decides what follows from an event. The caller saves.
func (r *rules) apply(h Event) {
	switch {
	case h.Kind == JarDirty:
		r.canWait(Notice{Kind: CleanJar, Vessel: h.Vessel, Name: h.Name, At: h.At, Count: h.Count}, h.For)
		return
	case h.Kind == DiscardAged:
		r.canWait(Notice{Kind: DiscardOld, Vessel: h.Vessel, Name: h.Name, At: h.For}, h.For)
		return
	case h.Kind != BakerPresent && h.Kind != StepOver && r.alreadyHandled(h):
		return
	}
	switch h.Kind {
	case Fed:
		r.acknowledge(h.Vessel)
		*r.vessel(h.Vessel) = r.vessel(h.Vessel).forget()
		r.changed = true
	case BakerPresent:
		r.acknowledge(h.Vessel)
	case Peaked:
		r.atPeak(h, OnTop)
	case Risen:
		r.atPeak(h, AtTarget)
	case Fell:
		r.collapsed(h)
	case GoesOver, PastBest:
		r.overproofed(h)
	case AlarmRaised:
		r.alarmRaised(h)
	case AlarmCleared:
		r.alarmCleared(h)
	case FeedOverdue:
		if v := r.vessel(h.Vessel); !v.FeedDue.Equal(h.For) || h.Late && !v.FeedLate {
			v.FeedDue, v.FeedLate = h.For, h.Late
			r.post(nil, r.withWaiting(Notice{Kind: FeedDue, Vessel: h.Vessel, Name: h.Name, At: h.For, Cold: h.Chilled, Late: h.Late}))
		}
	case BackHome:
		v := r.vessel(h.Vessel)
		v.FeedDue, v.FeedLate = h.For, true // this says it
		r.post(nil, r.withWaiting(Notice{Kind: FeedDue, Vessel: h.Vessel, Name: h.Name, At: h.For, Count: h.Count, Back: true}))
	case RimNear:
		r.post(nil, Notice{Kind: NearRim, Vessel: h.Vessel, Name: h.Name, Bowl: h.Bowl, At: h.Until, LeftMM: h.LeftMM, Late: h.Late})
	case FridgeAsked:
		if v := r.vessel(h.Vessel); !v.Fridge.Equal(h.For) {
			v.Fridge = h.For
			r.post(nil, Notice{Kind: FridgeCheck, Vessel: h.Vessel, Name: h.Name, At: h.Until, Cold: h.Chilled, TempC: finiteOrZero(h.TempC)})
		}
	case StepAhead:
		note := r.planned(h)
		note.Ahead = true
		r.post(nil, note)
	case SwitchWorn:
		r.post(nil, Notice{Kind: Worn, Vessel: h.Vessel, Name: h.Name, At: h.At, Count: h.Count, Life: h.Life})
	case StepDue:
		r.stepDue(h)
	case StepOver:
		r.stepOver(h)
	case PlanFails:
		r.post(nil, Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.At, Text: h.Text})
	case ReadyByFails:
		r.post(nil, Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.For, Until: h.For, Text: h.Text, ReadyBy: true})
	}
}

// acknowledge ends the repeats about a vessel, and remembers that the baker was
// there.
func (r *rules) acknowledge(vessel string) {
	for key, a := range r.state.PendingAcks {
		if a.Notice.Vessel == vessel {
			delete(r.state.PendingAcks, key)
			r.changed = true
		}
	}
	if v := r.vessel(vessel); v.Called && !v.BakerSeen {
		v.BakerSeen, r.changed = true, true
	}
}

// atPeak posts that a peak or a target is reached.
func (r *rules) atPeak(h Event, kind Kind) {
	v := r.vessel(h.Vessel)
	v.Called, v.BakerSeen = true, false
	note := Notice{Kind: kind, Vessel: h.Vessel, Name: h.Name, Bowl: h.Bowl, Bake: h.Bake, At: h.For, RiseRatio: finiteOrZero(h.RiseRatio), RiseMM: finiteOrZero(h.RiseMM)}
	if h.Step != "" {
		note.Step, note.Text = h.Step, h.Text
		r.post(func(p Recipient) bool { return !p.wants(kind) }, r.planned(Event{Vessel: h.Vessel, Name: h.Name, For: h.For, Until: h.Until, Part: h.Step, Text: h.Text}))
	}
	if kind == OnTop {
		note = r.withWaiting(note)
	}
	r.postForAck(note)
}

// collapsed posts a fall, unless the baker was there since the peak. It is the
// last message about that peak.
func (r *rules) collapsed(h Event) {
	v := r.vessel(h.Vessel)
	delete(r.state.PendingAcks, string(OnTop)+"/"+h.Vessel)
	r.changed = true
	if v.BakerSeen {
		return
	}
	v.Called = true
	r.post(func(p Recipient) bool { return !p.upkeep(h.Bowl, h.Bake) }, Notice{Kind: Falling, Vessel: h.Vessel, Name: h.Name, At: h.For})
}

// overproofed posts that dough was left standing, unless the baker was there
// since it was ready. That it is past its best is the last message about it.
func (r *rules) overproofed(h Event) {
	v := r.vessel(h.Vessel)
	delete(r.state.PendingAcks, string(AtTarget)+"/"+h.Vessel)
	r.changed = true
	if v.BakerSeen {
		return
	}
	v.Called = true
	note := Notice{Kind: AtTarget, Vessel: h.Vessel, Name: h.Name, Bowl: h.Bowl, At: h.For, RiseRatio: finiteOrZero(h.RiseRatio), RiseMM: finiteOrZero(h.RiseMM), Over: true, Past: h.Kind == PastBest}
	if note.Past {
		r.post(nil, note)
		return
	}
	r.postForAck(note)
}

// finiteOrZero turns what is no number, or none worth saying, into 0.
func finiteOrZero(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
		return 0
	}
	return v
}

// post writes notices for every recipient who wants their kind. They go to the
// log with the next save.
func (r *rules) post(to func(Recipient) bool, notices ...Notice) {
	for _, note := range notices {
		for _, p := range r.people {
			if p.wants(note.Kind) && (to == nil || to(p)) {
				r.posted = append(r.posted, r.record(p, note))
			}
		}
	}
}

func (r *rules) record(p Recipient, note Notice) event.Record {
	body, err := json.Marshal(note)
	if err != nil { // only a number that is none could do that, and real lets none in
		body = json.RawMessage("null")
	}
	return event.Record{To: laneOf(p.Name, note.Kind), Body: body, Expires: expires(note, r.now())}
}

// expires is when a notice is not worth sending any more.
func expires(note Notice, now time.Time) time.Time {
	switch note.Kind {
	case HeadsUp, TargetSoon:
		return note.At.Add(5 * time.Minute)
	case PlanStep:
		if note.Until.After(now) {
			return note.Until.Add(30 * time.Minute)
		}
	}
	return now.Add(life(note.Kind))
}
