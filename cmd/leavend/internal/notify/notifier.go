package notify

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// StateStore keeps what must be known again after a restart, as JSON.
type StateStore interface {
	State(ctx context.Context, name string, into any) (bool, error)
	SetState(ctx context.Context, name string, v any) error
}

// Opts are the choices of New; each has a default.
type Opts struct {
	Renderer Renderer
	Now      func() time.Time                          // time.Now
	Open     func(address, key string) (Sender, error) // Open
	Link     string                                    // address of the page, such as "https://board:8420", for links; "" makes none
	Look     time.Duration                             // between two looks at what is due; 10 s
	Log      *slog.Logger                              // slog.Default()

	// Read turns an event of the log into what happened; false where no recipient is
	// told of it. Nil reads none.
	Read func(event.Event) (Event, bool)
}

// Stats is how one recipient stands.
type Stats struct {
	Waiting      int
	Sent, Failed uint64    // Failed counts attempts
	Trouble      string    // why the last attempt failed; "" when it did not
	Since        time.Time // when it began to fail
}

// Notifier tells several recipients what happens. Its methods may be called
// from any goroutine. Hear and Expect wait for the disk at most, never for the
// network.
type Notifier struct {
	o        Opts
	log      *event.Log
	events   *event.Consumer
	wake     chan struct{}
	links    *links
	delivery *delivery

	mu    sync.Mutex // guards rules
	rules *rules
}

// stateName is where the memory keeps ours.
const stateName = "notify"

// consumer is our name in the event log.
const consumer = "notify"

// New makes a notifier, with what it knew before the restart. It takes events
// from the log, and keeps there what each recipient is not told yet.
func New(ctx context.Context, log *event.Log, memory StateStore, people []Recipient, o Opts) (*Notifier, error) {
	o.complete()
	n := &Notifier{o: o, log: log, events: log.Events(consumer), wake: make(chan struct{}, 1), links: &links{base: o.Link, now: o.Now}}
	n.delivery = &delivery{
		people: people, renderer: o.Renderer, now: o.Now, open: o.Open, log: o.Log,
		link: n.links.of, obsolete: n.obsolete, finished: n.signal,
	}
	n.delivery.addLanes(log)
	n.rules = &rules{people: people, now: o.Now, zone: o.Renderer.zone(), queued: n.delivery.queued}
	if err := n.rules.load(ctx, memory); err != nil {
		return nil, fmt.Errorf("notify: %w", err)
	}
	unsaved, err := n.links.load(ctx, memory)
	if err != nil {
		return nil, fmt.Errorf("notify: %w", err)
	}
	if unsaved != nil {
		o.Log.Warn("links in messages will not outlive this run", "err", unsaved)
	}
	return n, nil
}

// complete fills in the defaults.
func (o *Opts) complete() {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Open == nil {
		o.Open = Open
	}
	if o.Look == 0 {
		o.Look = 10 * time.Second
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
}

// Stats returns how each recipient stands.
func (n *Notifier) Stats() map[string]Stats { return n.delivery.statistics() }

// Handle takes in what happened beside the events of the log. When it returns
// without error, what follows from it is on the disk; with an error it is in
// memory, and still on its way.
func (n *Notifier) Handle(ctx context.Context, h Event) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.rules.apply(h)
	return n.save(ctx, nil)
}

// Expect takes in what is expected of a vessel; it may be called at each
// reading.
func (n *Notifier) Expect(ctx context.Context, o Outlook) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.rules.expect(o)
	return n.save(ctx, nil)
}

// obsolete reports whether a notice is no news any more.
func (n *Notifier) obsolete(note Notice, p Recipient) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.rules.obsolete(note, p)
}

// save puts what was posted and the memory into the log, together with the
// place of an event that they follow from, so that a kill leaves all or nothing
// of it. Without error all of it is on the disk. The caller holds mu.
func (n *Notifier) save(ctx context.Context, moves map[string]int64) error {
	if !n.rules.changed && len(n.rules.posted) == 0 && len(moves) == 0 {
		return nil
	}
	c := event.Change{Records: n.rules.posted, Moves: moves}
	if n.rules.changed {
		c.State = map[string]any{stateName: n.rules.state}
	}
	n.rules.posted, n.rules.changed = nil, false
	err := n.log.Commit(ctx, c)
	if len(c.Records) > 0 {
		n.signal()
	}
	if err != nil {
		return fmt.Errorf("notify: what is to be told is in memory only, and a power cut would lose it: %w", err)
	}
	return nil
}

// signal has Run look at once.
func (n *Notifier) signal() {
	select {
	case n.wake <- struct{}{}:
	default:
	}
}
