package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// delivery sends what waits in the log to each recipient: one message at a time
// on each lane, within quiet hours and limits, and again after a failure.
type delivery struct {
	people   []Recipient
	renderer Renderer
	now      func() time.Time
	open     func(address, key string) (Sender, error)
	log      *slog.Logger
	link     func(Notice, time.Time) string // to acknowledge a notice
	obsolete func(Notice, Recipient) bool   // reports whether a notice is no news any more
	finished func()                         // a send has ended

	mu    sync.Mutex // guards what follows
	lanes map[string]*lane
	stats map[string]*Stats
}

// addLanes makes the two lanes of each recipient, for the messages that the log
// keeps for it.
func (d *delivery) addLanes(log *event.Log) {
	d.lanes, d.stats = map[string]*lane{}, map[string]*Stats{}
	for i, p := range d.people {
		d.stats[p.Name] = &Stats{}
		for _, name := range []string{p.Name, p.Name + urgentLane} {
			d.lanes[name] = &lane{to: i, urgent: name != p.Name, queue: log.Letters(name)}
		}
	}
}

// queued reports whether a lane has a message waiting.
func (d *delivery) queued(name string, now time.Time) bool {
	_, waits := d.lanes[name].queue.Next(now)
	return waits
}

// statistics returns how each recipient stands.
func (d *delivery) statistics() map[string]Stats {
	now := d.now()
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make(map[string]Stats, len(d.stats))
	for name, s := range d.stats {
		one := *s
		one.Waiting = len(d.lanes[name].queue.Waiting(now)) + len(d.lanes[name+urgentLane].queue.Waiting(now))
		out[name] = one
	}
	return out
}

// dispatch starts a send on each lane that has something due and nothing
// under way. The lane is taken before its next message is read: a send that
// ends in between must not be made again.
func (d *delivery) dispatch(ctx context.Context, sends *sync.WaitGroup) {
	now := d.now()
	for _, l := range d.lanes {
		if !d.begin(l, now) {
			continue
		}
		if _, due := l.queue.Next(now); !due {
			d.end(l)
			continue
		}
		sends.Go(func() {
			d.deliver(ctx, d.people[l.to], l)
			d.end(l)
			d.finished()
		})
	}
}

// begin takes a lane for a send, if it is free and may be used now.
func (d *delivery) begin(l *lane, now time.Time) bool {
	_, due := l.queue.Next(now)
	d.mu.Lock()
	defer d.mu.Unlock()
	if !due || l.busy || l.next.After(now) || !l.urgent && !d.allowed(d.people[l.to], l, now) {
		return false
	}
	l.busy = true
	return true
}

func (d *delivery) end(l *lane) {
	d.mu.Lock()
	defer d.mu.Unlock()
	l.busy = false
}

// allowed reports whether a recipient may be told something that is not urgent.
// The caller holds mu.
func (d *delivery) allowed(p Recipient, l *lane, now time.Time) bool {
	l.sent = slices.DeleteFunc(l.sent, func(t time.Time) bool { return now.Sub(t) >= time.Hour })
	held := p.quiet(now, d.renderer.zone()) || p.MaxPerHour > 0 && len(l.sent) >= p.MaxPerHour
	l.batched = l.batched || held
	return !held
}

// deliver sends a lane's next message, or all that were held up as one.
func (d *delivery) deliver(ctx context.Context, p Recipient, l *lane) {
	batch := l.queue.Waiting(d.now())
	d.mu.Lock()
	gather := l.batched
	d.mu.Unlock()
	if !gather {
		batch = batch[:min(1, len(batch))]
	}
	if len(batch) == 0 {
		return
	}
	message, count := d.compose(p, batch)
	var err error
	if count > 0 {
		err = l.sender.send(ctx, p, d.open, message)
		if ctx.Err() != nil && err != nil {
			return // the daemon is ending; it goes out after the restart
		}
		d.record(p, l, count, err)
	}
	var f *Failure
	if err == nil || errors.As(err, &f) && f.Fate == Refused {
		d.done(l, batch[len(batch)-1])
	}
}

// compose puts messages into words. Those that are no news any more, or cannot
// be read, are left out; count is how many are in it.
func (d *delivery) compose(p Recipient, batch []event.Record) (l Message, count int) {
	now := d.now()
	var messages []Message
	for _, r := range batch {
		var note Notice
		if err := json.Unmarshal(r.Body, &note); err != nil || note.Kind == "" {
			d.log.Error("a message of the log cannot be read and is not sent", "record", r.Seq)
			continue
		}
		if d.obsolete(note, p) {
			continue
		}
		l := d.renderer.Render(note, now)
		l.ID = fmt.Sprintf("leavend-%s-%d", note.Kind, r.Seq)
		l.Link = d.link(note, now)
		messages = append(messages, l)
	}
	switch len(messages) {
	case 0:
		return Message{}, 0
	case 1:
		return messages[0], 1
	}
	return d.renderer.merge(messages), len(messages)
}

// record counts what came of a send, and settles when the next may be.
func (d *delivery) record(p Recipient, l *lane, count int, err error) {
	now := d.now()
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.stats[p.Name]
	if err == nil {
		if s.Trouble != "" {
			d.log.Info("messages go out again", "recipient", p.Name)
		}
		s.Sent += uint64(count)
		s.Trouble, s.Since = "", time.Time{}
		l.sent, l.batched, l.failures = append(l.sent, now), false, 0
		return
	}
	if s.Trouble != err.Error() {
		d.log.Warn("a message could not be sent", "recipient", p.Name, "why", err)
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
	case errors.As(err, &f) && f.Fate == Address && !l.urgent:
		l.next = now.Add(addressWait)
	default:
		// A network that answers for everybody, as a router does that starts, says of
		// each address that it has moved: what is urgent does not wait for a person.
		l.next = now.Add(backOff(l.failures))
		l.failures++
	}
}

// done marks all up to a message as done with. That must be made even while the
// daemon ends.
func (d *delivery) done(l *lane, last event.Record) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := l.queue.Done(ctx, last); err != nil {
		d.log.Debug("a sent message could not be marked yet", "err", err)
	}
}
