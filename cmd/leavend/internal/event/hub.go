package event

import (
	"context"
	"sync"
	"sync/atomic"
)

// Hub carries statuses and events to everyone who listens, and lets no listener
// hold up the one who tells. Each listener has a queue of its own: a status
// beyond its bound pushes out the oldest status, and is counted; events are
// never dropped. S is the status of a vessel.
type Hub[S any] struct {
	mu        sync.Mutex // guards what follows
	listeners []*Listener[S]
}

// Item is a status or an event, never both.
type Item[S any] struct {
	Status *S
	Event  *Event
}

// statusesKept is how many statuses a listener may fall behind before the
// oldest are dropped: about a quarter of an hour of four vessels at 10 s.
const statusesKept = 360

// Listen returns a listener that hears everything told from now on. It must be
// read: what it hears of events is kept for it.
func (h *Hub[S]) Listen(name string) *Listener[S] {
	l := &Listener[S]{Name: name, wake: make(chan struct{}, 1)}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.listeners = append(h.listeners, l)
	return l
}

// Status tells a status. It never blocks.
func (h *Hub[S]) Status(s S) { h.tell(Item[S]{Status: &s}) }

// Event tells an event. It never blocks.
func (h *Hub[S]) Event(e Event) { h.tell(Item[S]{Event: &e}) }

func (h *Hub[S]) tell(it Item[S]) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, l := range h.listeners {
		l.push(it)
	}
}

// Dropped returns how many statuses each listener has missed.
func (h *Hub[S]) Dropped() map[string]uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	missed := make(map[string]uint64, len(h.listeners))
	for _, l := range h.listeners {
		missed[l.Name] = l.dropped.Load()
	}
	return missed
}

// Listener is one reader of the hub.
type Listener[S any] struct {
	Name    string
	wake    chan struct{}
	dropped atomic.Uint64

	mu       sync.Mutex // guards what follows
	queue    []Item[S]
	statuses int
}

func (l *Listener[S]) push(it Item[S]) {
	l.mu.Lock()
	if it.Status != nil {
		if l.statuses == statusesKept {
			l.dropOldest()
		}
		l.statuses++
	}
	l.queue = append(l.queue, it)
	l.mu.Unlock()
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// dropOldest takes the oldest status out of the queue. The caller holds mu.
func (l *Listener[S]) dropOldest() {
	for i, it := range l.queue {
		if it.Status != nil {
			l.queue = append(l.queue[:i], l.queue[i+1:]...)
			l.statuses--
			l.dropped.Add(1)
			return
		}
	}
}

// Flush empties the queue and returns what was in it.
func (l *Listener[S]) Flush() []Item[S] {
	l.mu.Lock()
	defer l.mu.Unlock()
	all := l.queue
	l.queue, l.statuses = nil, 0
	return all
}

// Run gives each item to f, in the order told, until ctx ends; what is still
// queued then is given too, so that nothing told before the end is lost.
func (l *Listener[S]) Run(ctx context.Context, f func(Item[S])) {
	for {
		for _, it := range l.Flush() {
			f(it)
		}
		select {
		case <-l.wake:
		case <-ctx.Done():
			for _, it := range l.Flush() {
				f(it)
			}
			return
		}
	}
}
