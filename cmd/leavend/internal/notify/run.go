package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// lane is one of a recipient's two ways: the usual one, or the urgent one.
type lane struct {
	to      int // in Notifier.people
	urgent  bool
	letters *event.Consumer // what waits, in order
	line    line            // used by the send under way only

	// What follows is guarded by Notifier.sending.
	busy     bool        // a send is under way
	sent     []time.Time // in the last hour
	gather   bool        // messages were held up and go out as one
	failures int         // of the message that goes next
	next     time.Time   // not before this
}

// Run takes in events and sends what is due until ctx ends.
func (n *Notifier) Run(ctx context.Context) error {
	var sends sync.WaitGroup
	defer sends.Wait()
	for {
		for ctx.Err() == nil && n.follow(ctx) {
		}
		n.tick(ctx)
		n.dispatch(ctx, &sends)
		wait := time.NewTimer(n.o.Look)
		select {
		case <-ctx.Done():
			wait.Stop()
			n.followLast()
			return nil
		case <-n.wake:
			wait.Stop()
		case <-n.events.Wake():
			wait.Stop()
		case <-wait.C:
		}
	}
}

// followLast takes in what was told while the daemon ended.
func (n *Notifier) followLast() {
	ctx, end := context.WithTimeout(context.Background(), 10*time.Second)
	defer end()
	for n.follow(ctx) {
	}
}

// tick does what only the time calls for.
func (n *Notifier) tick(ctx context.Context) {
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.o.Now()
	n.settle(now)
	n.repeat(now)
	if err := n.save(ctx, nil); err != nil && ctx.Err() == nil {
		n.o.Log.Debug("what was told could not be stored", "err", err) // storage has a fault of its own
	}
}

// repeat says again what nobody has come for. A repeat waits until the message
// before it is out, so that an hour without network does not end in a heap.
func (n *Notifier) repeat(now time.Time) {
	for key, a := range n.state.Asks {
		open := false
		for _, p := range n.people {
			s, told := a.Said[p.Name]
			if !told || p.RepeatEvery == 0 || s.Times >= p.Repeats {
				continue
			}
			open = true
			if a.Notice.stale(now) || now.Sub(s.Last) < p.RepeatEvery || !a.Notice.Kind.urgent() && p.quiet(now, n.o.Words.zone()) || n.waits(laneOf(p.Name, a.Notice.Kind), now) {
				continue
			}
			s.Times, s.Last = s.Times+1, now
			a.Said[p.Name], n.changed = s, true
			note := a.Notice
			note.Repeat = s.Times
			n.post(only(p), note)
		}
		if !open && now.Sub(a.Notice.At) > 24*time.Hour {
			delete(n.state.Asks, key)
			n.changed = true
		}
	}
}

// staleAfter is when a top is not said again, whoever came or did not.
const staleAfter = 3 * time.Hour

func (n Notice) stale(now time.Time) bool {
	return n.Kind != MatFault && now.Sub(n.At) > staleAfter
}

// waits reports whether a lane has a message waiting. The caller holds mu.
func (n *Notifier) waits(name string, now time.Time) bool {
	posted := func(r event.Record) bool { return r.To == name }
	_, waits := n.lanes[name].letters.Next(now)
	return waits || slices.ContainsFunc(n.posted, posted)
}

// dispatch starts a send on each lane that has something due and nothing
// under way. The lane is taken before its next message is read: a send that
// ends in between must not be made again.
func (n *Notifier) dispatch(ctx context.Context, sends *sync.WaitGroup) {
	now := n.o.Now()
	for _, l := range n.lanes {
		if !n.begin(l, now) {
			continue
		}
		if _, due := l.letters.Next(now); !due {
			n.end(l)
			continue
		}
		sends.Go(func() {
			n.deliver(ctx, n.people[l.to], l)
			n.end(l)
			n.poke()
		})
	}
}

// begin takes a lane for a send, if it is free and may be used now.
func (n *Notifier) begin(l *lane, now time.Time) bool {
	_, due := l.letters.Next(now)
	n.sending.Lock()
	defer n.sending.Unlock()
	if !due || l.busy || l.next.After(now) || !l.urgent && !n.may(n.people[l.to], l, now) {
		return false
	}
	l.busy = true
	return true
}

func (n *Notifier) end(l *lane) {
	n.sending.Lock()
	defer n.sending.Unlock()
	l.busy = false
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
func (n *Notifier) deliver(ctx context.Context, p Recipient, l *lane) {
	batch := l.letters.Waiting(n.o.Now())
	n.sending.Lock()
	gather := l.gather
	n.sending.Unlock()
	if !gather {
		batch = batch[:min(1, len(batch))]
	}
	if len(batch) == 0 {
		return
	}
	letter, count := n.letter(p, batch)
	var err error
	if count > 0 {
		err = l.line.send(ctx, p, n.o.Open, letter)
		if ctx.Err() != nil && err != nil {
			return // the daemon is ending; it goes out after the restart
		}
		n.note(p, l, count, err)
	}
	var f *Failure
	if err == nil || errors.As(err, &f) && f.Fate == Refused {
		n.done(l, batch[len(batch)-1])
	}
}

// letter puts messages into words. Those that are no news any more, or cannot
// be read, are left out; count is how many are in it.
func (n *Notifier) letter(p Recipient, batch []event.Record) (l Letter, count int) {
	now := n.o.Now()
	var letters []Letter
	for _, r := range batch {
		var note Notice
		if err := json.Unmarshal(r.Body, &note); err != nil || note.Kind == "" {
			n.o.Log.Error("a message of the log cannot be read and is not sent", "record", r.Seq)
			continue
		}
		if n.moot(note, p) {
			continue
		}
		l := n.o.Words.Say(note, now)
		l.ID = fmt.Sprintf("leavend-%s-%d", note.Kind, r.Seq)
		l.Link = n.link(note, p.Name, now)
		letters = append(letters, l)
	}
	switch len(letters) {
	case 0:
		return Letter{}, 0
	case 1:
		return letters[0], 1
	}
	return n.o.Words.gather(letters), len(letters)
}

// moot reports whether what a notice says is no news any more: a top that was
// near has come or is told for another time, the vessel was fed since, or
// somebody has come for what is said again.
func (n *Notifier) moot(note Notice, p Recipient) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	if note.Repeat > 0 && n.state.Asks[note.Ask] == nil {
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

// note counts what came of a send, and settles when the next may be.
func (n *Notifier) note(p Recipient, l *lane, count int, err error) {
	now := n.o.Now()
	n.sending.Lock()
	defer n.sending.Unlock()
	s := n.stats[p.Name]
	if err == nil {
		if s.Trouble != "" {
			n.o.Log.Info("messages go out again", "recipient", p.Name)
		}
		s.Sent += uint64(count)
		s.Trouble, s.Since = "", time.Time{}
		l.sent, l.gather, l.failures = append(l.sent, now), false, 0
		return
	}
	if s.Trouble != err.Error() {
		n.o.Log.Warn("a message could not be sent", "recipient", p.Name, "why", err)
	}
	s.Failed++
	s.Trouble = err.Error()
	if s.Since.IsZero() {
		s.Since = now
	}
	var f *Failure
	switch {
	case errors.As(err, &f) && f.Fate == Refused:
		l.failures = 0
	case errors.As(err, &f) && f.Fate == Address:
		l.next = now.Add(addressWait)
	default:
		l.next = now.Add(backOff(l.failures))
		l.failures++
	}
}

// done marks all up to a message as done with. That must be made even while the
// daemon ends.
func (n *Notifier) done(l *lane, last event.Record) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := l.letters.Done(ctx, last); err != nil {
		n.o.Log.Debug("a sent message could not be marked yet", "err", err)
	}
}

// addressWait is when an address that was refused is tried again.
const addressWait = 15 * time.Minute

// backOff is how long to wait after so many failures before.
func backOff(failures int) time.Duration {
	return min(15*time.Second<<min(failures, 10), 5*time.Minute)
}
