package notify

import (
	"context"
	"encoding/json"
	"math"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Hear takes in what happened beside the events of the log. When it returns
// without error, what follows from it is on the disk; with an error it is in
// memory, and still on its way.
func (n *Notifier) Hear(ctx context.Context, h Event) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.hear(h)
	return n.save(ctx, nil)
}

// follow takes in the next event of the log; false when there is none.
func (n *Notifier) follow(ctx context.Context) bool {
	r, ok := n.events.Next(n.o.Now())
	if !ok {
		return false
	}
	var e event.Event
	err := json.Unmarshal(r.Body, &e)
	if err != nil {
		n.o.Log.Error("an event of the log cannot be read, and nobody is told of it", "record", r.Seq, "err", err)
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if err == nil && n.o.Read != nil {
		if h, told := n.o.Read(e); told {
			n.hear(h)
		}
	}
	if err := n.save(ctx, map[string]int64{consumer: r.Seq}); err != nil && ctx.Err() == nil {
		n.o.Log.Error("an event was not stored", "err", err)
	}
	return true
}

// hear decides what follows from an event. The caller holds mu and saves.
func (n *Notifier) hear(h Event) {
	if h.What != Came && h.What != StepOver && n.seenBefore(h) {
		return
	}
	switch h.What {
	case Fed:
		n.came(h.Vessel)
		delete(n.state.Vessels, h.Vessel)
		n.changed = true
	case Came:
		n.came(h.Vessel)
	case Peaked:
		n.ready(h, OnTop)
	case Risen:
		n.ready(h, AtTarget)
	case Fell:
		n.fell(h)
	case GoesOver, PastBest:
		n.over(h)
	case AlarmRaised:
		n.broke(h)
	case AlarmCleared:
		n.mended(h)
	case FeedOverdue:
		if v := n.vessel(h.Vessel); !v.FeedDue.Equal(h.For) || h.Late && !v.FeedLate {
			v.FeedDue, v.FeedLate = h.For, h.Late
			n.post(nil, Notice{Kind: FeedDue, Vessel: h.Vessel, Name: h.Name, At: h.For, Cold: h.Chilled, Late: h.Late})
		}
	case JarDirty:
		if v := n.vessel(h.Vessel); !v.CleanJar.Equal(h.For) {
			v.CleanJar = h.For
			n.post(nil, Notice{Kind: CleanJar, Vessel: h.Vessel, Name: h.Name, At: h.At, Count: h.Count})
		}
	case SwitchWorn:
		n.post(nil, Notice{Kind: Worn, Vessel: h.Vessel, Name: h.Name, At: h.At, Count: h.Count, Life: h.Life})
	case StepDue:
		n.stepDue(h)
	case StepOver:
		n.stepOver(h)
	case PlanFails:
		n.post(nil, Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.At, Text: h.Text})
	case WishFails:
		n.post(nil, Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.For, Until: h.For, Text: h.Text, Wish: true})
	}
}

// came ends what is asked about a vessel, and remembers that somebody was
// there. The caller holds mu.
func (n *Notifier) came(vessel string) {
	for key, a := range n.state.Asks {
		if a.Notice.Vessel == vessel {
			delete(n.state.Asks, key)
			n.changed = true
		}
	}
	if v := n.vessel(vessel); v.Topped && !v.Came {
		v.Came, n.changed = true, true
	}
}

// ready tells of a top or a target.
func (n *Notifier) ready(h Event, kind Kind) {
	v := n.vessel(h.Vessel)
	v.Topped, v.Came = true, false
	note := Notice{Kind: kind, Vessel: h.Vessel, Name: h.Name, Bowl: h.Bowl, Bake: h.Bake, At: h.For, RiseRatio: real(h.RiseRatio), RiseMM: real(h.RiseMM)}
	n.askAndPost(note)
}

// askAndPost posts a notice that will be said again.
func (n *Notifier) askAndPost(note Notice) {
	n.post(nil, n.ask(note))
}

// ask sees to it that a notice is said again until somebody comes.
func (n *Notifier) ask(note Notice) Notice {
	note.Ask = string(note.Kind) + "/" + note.Vessel
	a := &ask{Notice: note, Said: map[string]said{}}
	for _, p := range n.people {
		if p.wants(note.Kind) && !p.upkeep(note.Bowl, note.Bake) {
			a.Said[p.Name] = said{0, n.o.Now()}
		}
	}
	n.state.Asks[note.Ask] = a
	n.changed = true
	return note
}

// fell tells of a fall, if nobody came since the top. It is the last word
// about that top.
func (n *Notifier) fell(h Event) {
	v := n.vessel(h.Vessel)
	delete(n.state.Asks, string(OnTop)+"/"+h.Vessel)
	n.changed = true
	if v.Came {
		return
	}
	v.Topped = true
	n.post(func(p Recipient) bool { return !p.upkeep(h.Bowl, h.Bake) }, Notice{Kind: Falling, Vessel: h.Vessel, Name: h.Name, At: h.For})
}

// over tells that dough was left standing, if nobody came since it was ready.
// That it is past its best is the last message about it.
func (n *Notifier) over(h Event) {
	v := n.vessel(h.Vessel)
	delete(n.state.Asks, string(AtTarget)+"/"+h.Vessel)
	n.changed = true
	if v.Came {
		return
	}
	v.Topped = true
	note := Notice{Kind: AtTarget, Vessel: h.Vessel, Name: h.Name, Bowl: h.Bowl, At: h.For, RiseRatio: real(h.RiseRatio), RiseMM: real(h.RiseMM), Over: true, Past: h.What == PastBest}
	if note.Past {
		n.post(nil, note)
		return
	}
	n.askAndPost(note)
}

// real turns what is no number, or none worth saying, into 0.
func real(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
		return 0
	}
	return v
}

// Expect takes in what is expected of a vessel, as often as the house likes.
func (n *Notifier) Expect(ctx context.Context, o Outlook) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	v := n.vessel(o.Vessel)
	if v.Topped || o.At.IsZero() {
		return nil
	}
	now := n.o.Now()
	for _, p := range n.people {
		n.headsUp(now, p, v, o)
		n.soon(now, p, v, o)
	}
	return n.save(ctx, nil)
}

// upkeep reports whether a recipient wants little said of it: starter that no bake
// waits for.
func (p Recipient) upkeep(bowl, bake bool) bool { return p.QuietUpkeep && !bowl && !bake }

// mostAgain is how often a heads-up is told again: twice is as often as one wants to
// hear of one peak before it comes.
const mostAgain = 1

// movedBy is how far a forecast must move to be told again.
const movedBy = 15 * time.Minute

// headsUp tells one recipient that the top is near, and again when the
// forecast has moved since.
func (n *Notifier) headsUp(now time.Time, p Recipient, v *vesselState, o Outlook) {
	told, before := v.HeadsUp[p.Name]
	near := p.HeadsUp > 0 && o.At.Sub(now) <= p.HeadsUp && o.At.After(now)
	moved := before && o.At.Sub(told).Abs() > movedBy && o.At.After(now) && v.Again[p.Name] < mostAgain
	if !moved && (before || !near) || !p.wants(HeadsUp) || p.upkeep(o.Bowl, o.Bake) {
		return
	}
	v.HeadsUp[p.Name], n.changed = o.At, true
	if before {
		v.Again[p.Name]++
	}
	n.post(only(p), Notice{Kind: HeadsUp, Vessel: o.Vessel, Name: o.Name, Bowl: o.Bowl, At: o.At, Low: o.Low, High: o.High, Told: told})
}

// Dough's target is told ahead once: two hours before, or half an hour before
// the recipient's quiet hours where it falls into those or after them.
const (
	soonBefore  = 2 * time.Hour
	bedtimeLead = 30 * time.Minute
)

func (n *Notifier) soon(now time.Time, p Recipient, v *vesselState, o Outlook) {
	if !o.Bowl || v.Soon[p.Name] || !o.At.After(now) || !p.wants(TargetSoon) {
		return
	}
	zone := n.o.Words.zone()
	bedtime := !p.quiet(now, zone) && p.quiet(now.Add(bedtimeLead), zone)
	if o.At.Sub(now) > soonBefore && !(bedtime && o.At.Sub(now) > bedtimeLead) {
		return
	}
	v.Soon[p.Name], n.changed = true, true
	n.post(only(p), Notice{Kind: TargetSoon, Vessel: o.Vessel, Name: o.Name, Bowl: true, At: o.At, Low: o.Low, High: o.High})
}

// only chooses one recipient.
func only(p Recipient) func(Recipient) bool {
	return func(other Recipient) bool { return other.Name == p.Name }
}
