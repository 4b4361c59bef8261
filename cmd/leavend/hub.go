package main

import (
	"context"
	"sync"
	"sync/atomic"
)

// hub hands what happens in the house to everyone who wants to know, and lets
// none of them hold up the one who tells. Each listener has a queue of its
// own: samples beyond its bound push out the oldest sample, and are counted;
// events are never dropped.
type hub struct {
	mu        sync.Mutex // guards what follows
	listeners []*listener
	early     []item // events told before anybody listened
}

// item is one thing told: a sample or an event, never both.
type item struct {
	sample *sample
	event  *event
}

// samplesKept is how many samples a listener may fall behind before the
// oldest are dropped: about a quarter of an hour of four vessels at 10 s.
const samplesKept = 360

// Listen returns a listener that hears everything told from now on, and the
// events that were told before anybody listened: what the daemon finds while it
// opens must reach the baker too.
func (h *hub) Listen(name string) *listener {
	l := &listener{name: name, wake: make(chan struct{}, 1)}
	h.mu.Lock()
	h.listeners = append(h.listeners, l)
	for _, it := range h.early {
		l.push(it)
	}
	h.mu.Unlock()
	return l
}

// Sample tells a sample. It never blocks.
func (h *hub) Sample(s sample) { h.tell(item{sample: &s}) }

// Event tells an event. It never blocks.
func (h *hub) Event(e event) { h.tell(item{event: &e}) }

func (h *hub) tell(it item) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.listeners) == 0 && it.event != nil {
		h.early = append(h.early, it)
	}
	for _, l := range h.listeners {
		l.push(it)
	}
}

// Dropped returns how many samples each listener has missed.
func (h *hub) Dropped() map[string]uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	missed := make(map[string]uint64, len(h.listeners))
	for _, l := range h.listeners {
		missed[l.name] = l.dropped.Load()
	}
	return missed
}

// listener is one reader of the hub.
type listener struct {
	name    string
	wake    chan struct{}
	dropped atomic.Uint64

	mu      sync.Mutex // guards what follows
	queue   []item
	samples int
}

func (l *listener) push(it item) {
	l.mu.Lock()
	if it.sample != nil {
		if l.samples == samplesKept {
			l.dropOldest()
		}
		l.samples++
	}
	l.queue = append(l.queue, it)
	l.mu.Unlock()
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// dropOldest takes the oldest sample out of the queue. The caller holds mu.
func (l *listener) dropOldest() {
	for i, it := range l.queue {
		if it.sample != nil {
			l.queue = append(l.queue[:i], l.queue[i+1:]...)
			l.samples--
			l.dropped.Add(1)
			return
		}
	}
}

// take empties the queue.
func (l *listener) take() []item {
	l.mu.Lock()
	defer l.mu.Unlock()
	taken := l.queue
	l.queue, l.samples = nil, 0
	return taken
}

// Run gives each item to f, in the order told, until ctx ends; what is still
// queued then is given too, so that nothing told before the end is lost.
func (l *listener) Run(ctx context.Context, f func(item)) {
	for {
		for _, it := range l.take() {
			f(it)
		}
		select {
		case <-l.wake:
		case <-ctx.Done():
			for _, it := range l.take() {
				f(it)
			}
			return
		}
	}
}
