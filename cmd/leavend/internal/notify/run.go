package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"
)

// lane is what is going on on one lane.
type lane struct {
	busy   bool        // a send is under way
	sent   []time.Time // in the last hour
	gather bool        // messages were held up and go out as one
	line   line        // used by the send under way only
	next   time.Time   // not before this, also where the disk cannot keep it
	ended  []int64     // what was done with lately; see dispatch
}

// endedKept is how many of the messages done with a lane remembers.
const endedKept = 64

// finish remembers messages that are done with.
func (l *lane) finish(batch []Message) {
	for _, m := range batch {
		l.ended = append(l.ended, m.ID)
	}
	l.ended = l.ended[max(0, len(l.ended)-endedKept):]
}

// Run sends what is due until ctx ends.
func (n *Notifier) Run(ctx context.Context) error {
	var sends sync.WaitGroup
	defer sends.Wait()
	for {
		n.tick(ctx)
		n.dispatch(ctx, &sends)
		wait := time.NewTimer(n.o.Look)
		select {
		case <-ctx.Done():
			wait.Stop()
			return nil
		case <-n.wake:
			wait.Stop()
		case <-wait.C:
		}
	}
}

// tick does what only the time calls for.
func (n *Notifier) tick(ctx context.Context) {
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.o.Now()
	n.settle(ctx, now)
	n.repeat(ctx, now)
	if err := n.save(ctx); err != nil && ctx.Err() == nil {
		n.o.Log.Debug("what was told could not be stored", "err", err) // storage has a fault of its own
	}
}

// repeat says again what nobody has come for. A repeat waits until the message
// before it is out, so that an hour without network does not end in a heap.
func (n *Notifier) repeat(ctx context.Context, now time.Time) {
	for key, a := range n.memo.Asks {
		open := false
		for _, p := range n.people {
			s, told := a.Said[p.Name]
			if !told || p.RepeatEvery == 0 || s.Times >= p.Repeats {
				continue
			}
			open = true
			if a.Notice.stale(now) || now.Sub(s.Last) < p.RepeatEvery || !a.Notice.Kind.urgent() && p.quiet(now, n.o.Words.zone()) || n.waits(ctx, laneOf(p.Name, a.Notice.Kind)) {
				continue
			}
			s.Times, s.Last = s.Times+1, now
			a.Said[p.Name], n.changed = s, true
			note := a.Notice
			note.Repeat = s.Times
			n.post(ctx, only(p), note)
		}
		if !open && now.Sub(a.Notice.At) > 24*time.Hour {
			delete(n.memo.Asks, key)
			n.changed = true
		}
	}
}

// staleAfter is when a top is not said again, whoever came or did not.
const staleAfter = 3 * time.Hour

func (n Notice) stale(now time.Time) bool {
	return n.Kind != MatFault && now.Sub(n.At) > staleAfter
}

// waits reports whether a lane has a message waiting.
func (n *Notifier) waits(ctx context.Context, lane string) bool {
	all, err := n.box.Waiting(ctx)
	return err != nil || slices.ContainsFunc(all, func(m Message) bool { return m.Recipient == lane })
}

// dispatch starts a send on each lane that has something due and nothing
// under way. What it reads may be out of date when it looks at the lane: a send
// that was under way can have ended in between, and must not be made again.
func (n *Notifier) dispatch(ctx context.Context, sends *sync.WaitGroup) {
	now := n.o.Now()
	due, err := n.box.Due(ctx, now)
	if err != nil && ctx.Err() == nil {
		n.o.Log.Debug("the outbox cannot be read", "err", err)
	}
	for _, m := range due {
		name, urgent := ofLane(m.Recipient)
		i := slices.IndexFunc(n.people, func(p Recipient) bool { return p.Name == name })
		if i < 0 { // the configuration knows them no more
			n.end(ctx, m, now, false)
			continue
		}
		n.sending.Lock()
		l := n.lane(m.Recipient)
		free := !l.busy && !slices.Contains(l.ended, m.ID) && !l.next.After(now) && (urgent || n.may(n.people[i], l, now))
		l.busy = l.busy || free
		n.sending.Unlock()
		if !free {
			continue
		}
		sends.Go(func() { n.deliver(ctx, n.people[i], l, m) })
	}
}

// lane returns what is known of a lane. The caller holds sending.
func (n *Notifier) lane(name string) *lane {
	l := n.lanes[name]
	if l == nil {
		l = &lane{}
		n.lanes[name] = l
	}
	return l
}

// may reports whether a recipient may be told something that is not urgent.
// The caller holds sending.
func (n *Notifier) may(p Recipient, l *lane, now time.Time) bool {
	l.sent = slices.DeleteFunc(l.sent, func(t time.Time) bool { return now.Sub(t) >= time.Hour })
	held := p.quiet(now, n.o.Words.zone()) || p.MaxPerHour > 0 && len(l.sent) >= p.MaxPerHour
	l.gather = l.gather || held
	return !held
}

// deliver sends a lane's next message, or all that were held up as one.
func (n *Notifier) deliver(ctx context.Context, p Recipient, l *lane, m Message) {
	defer func() {
		n.sending.Lock()
		l.busy = false
		n.sending.Unlock()
		select {
		case n.wake <- struct{}{}:
		default:
		}
	}()
	batch := []Message{m}
	n.sending.Lock()
	gather := l.gather
	n.sending.Unlock()
	if gather {
		batch = n.batch(ctx, m)
	}
	letter, batch := n.letter(ctx, p, batch)
	if len(batch) == 0 {
		return
	}
	err := l.line.send(ctx, p, n.o.Open, letter)
	if ctx.Err() != nil && err != nil {
		return // the house is ending; it goes out after the restart
	}
	n.note(ctx, p, l, batch, err)
}

// batch is a message and all that wait behind it.
func (n *Notifier) batch(ctx context.Context, first Message) []Message {
	all, err := n.box.Waiting(ctx)
	if err != nil {
		return []Message{first}
	}
	now := n.o.Now()
	all = slices.DeleteFunc(all, func(m Message) bool {
		return m.Recipient != first.Recipient || !m.Expires.IsZero() && !m.Expires.After(now)
	})
	if len(all) == 0 {
		return []Message{first}
	}
	return all
}

// letter puts messages into words, and ends those that nobody needs any more.
func (n *Notifier) letter(ctx context.Context, p Recipient, batch []Message) (Letter, []Message) {
	now := n.o.Now()
	var letters []Letter
	var kept []Message
	for _, m := range batch {
		var note Notice
		if err := json.Unmarshal(m.Body, &note); err != nil || note.Kind == "" {
			note = Notice{Kind: m.Kind, Vessel: m.Vessel, At: m.Event, Text: m.Text}
		}
		if n.moot(note, p) {
			n.end(ctx, m, now, false)
			continue
		}
		l := n.o.Words.Say(note, now)
		l.ID = fmt.Sprintf("leavend-%s-%d", note.Kind, m.ID)
		l.Link = n.link(note, p.Name, now)
		letters, kept = append(letters, l), append(kept, m)
	}
	switch len(letters) {
	case 0:
		return Letter{}, nil
	case 1:
		return letters[0], kept
	}
	return n.o.Words.gather(letters), kept
}

// moot reports whether what a notice says is no news any more: a top that was
// near has come or is told anew for another time, the vessel was fed since, or
// somebody has come for what is said again.
func (n *Notifier) moot(note Notice, p Recipient) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	if note.Repeat > 0 && n.memo.Asks[note.Ask] == nil {
		return true
	}
	v := n.vessel(note.Vessel)
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
		return n.planMoot(note)
	}
	return false
}

// note writes down what came of a send.
func (n *Notifier) note(ctx context.Context, p Recipient, l *lane, batch []Message, err error) {
	now := n.o.Now()
	n.sending.Lock()
	s := n.stats[p.Name]
	changed := err != nil && s.Trouble != err.Error() || err == nil && s.Trouble != ""
	if err == nil {
		s.Sent += uint64(len(batch))
		s.Trouble, s.Since = "", time.Time{}
		l.sent, l.gather = append(l.sent, now), false
	} else {
		s.Failed++
		s.Trouble = err.Error()
		if s.Since.IsZero() {
			s.Since = now
		}
	}
	n.sending.Unlock()
	if changed && err != nil {
		n.o.Log.Warn("a message could not be sent", "recipient", p.Name, "why", err)
	} else if changed {
		n.o.Log.Info("messages go out again", "recipient", p.Name)
	}
	var f *Failure
	switch {
	case err == nil:
		n.endAll(ctx, l, batch, now, true)
	case errors.As(err, &f) && f.Fate == Refused:
		n.endAll(ctx, l, batch, now, false)
	default:
		wait := backOff(batch[0].Attempts)
		if f != nil && f.Fate == Address {
			wait = addressWait
		}
		n.sending.Lock()
		l.next = now.Add(wait)
		n.sending.Unlock()
		why := err.Error()
		if err := n.box.Failed(ctx, batch[0].ID, why, now.Add(wait)); err != nil {
			n.o.Log.Debug("a failed send could not be stored", "err", err)
		}
	}
}

// endAll takes what was sent together out of the outbox.
func (n *Notifier) endAll(ctx context.Context, l *lane, batch []Message, now time.Time, sent bool) {
	for _, m := range batch {
		n.end(ctx, m, now, sent)
	}
	n.sending.Lock()
	defer n.sending.Unlock()
	l.finish(batch)
}

// end takes a message out of the outbox.
func (n *Notifier) end(ctx context.Context, m Message, now time.Time, sent bool) {
	// The mark must be made even while the house ends.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	if err := n.box.End(ctx, m.ID, now, sent); err != nil {
		n.o.Log.Debug("a sent message could not be marked yet", "err", err)
	}
}

// addressWait is when an address that was refused is tried again.
const addressWait = 15 * time.Minute

// backOff is how long to wait after so many failures before.
func backOff(failures int) time.Duration {
	return min(15*time.Second<<min(failures, 10), 5*time.Minute)
}
