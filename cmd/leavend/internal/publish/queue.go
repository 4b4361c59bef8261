package publish

import (
	"bytes"
	"sync"
)

// message is one publish packet to be.
type message struct {
	topic   string
	payload []byte
	retain  bool
	seq     uint64 // tells a state from a newer one of the same topic
}

// queue holds what waits for the broker: the latest state of each topic, and
// the events in order. Its callers never wait.
type queue struct {
	wake chan struct{} // holds one token while there may be work
	keep chan struct{} // the same for the journal

	mu     sync.Mutex // guards all below
	seq    uint64
	states map[string]message
	dirty  []string // topics whose latest state is not with the broker, oldest first
	queued map[string]bool
	events []message
	bound  int    // the most events that may wait
	lost   uint64 // events that went over the bound
	stale  uint64 // states replaced before they were sent
}

func newQueue(bound int) *queue {
	return &queue{
		wake:   make(chan struct{}, 1),
		keep:   make(chan struct{}, 1),
		states: make(map[string]message),
		queued: make(map[string]bool),
		bound:  bound,
	}
}

// state puts a retained message in the place of any older one of its topic,
// and does nothing if it says the same. An empty payload takes the topic away
// from the broker and then from here.
func (q *queue) state(topic string, payload []byte) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if old, ok := q.states[topic]; ok && bytes.Equal(old.payload, payload) {
		return
	}
	q.seq++
	if q.queued[topic] {
		q.stale++
	}
	q.states[topic] = message{topic: topic, payload: payload, retain: true, seq: q.seq}
	q.enqueue(topic)
}

// enqueue marks a topic for sending; the caller holds mu.
func (q *queue) enqueue(topic string) {
	if !q.queued[topic] {
		q.queued[topic] = true
		q.dirty = append(q.dirty, topic)
	}
	q.signal()
}

// signal wakes the sender; the caller need not hold mu.
func (q *queue) signal() { poke(q.wake) }

// poke leaves a token in a channel that holds one.
func poke(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// event puts m at the end of the outbox and returns its number. If there is no
// room, the oldest event goes and is counted.
func (q *queue) event(m message) (seq uint64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.seq++
	m.seq = q.seq
	if len(q.events) >= q.bound {
		q.events = q.events[1:]
		q.lost++
	}
	q.events = append(q.events, m)
	q.signal()
	poke(q.keep)
	return m.seq
}

// eventsAfter returns the waiting events that are younger than seq, and how
// many wait in all.
func (q *queue) eventsAfter(seq uint64) (younger []message, waiting int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, m := range q.events {
		if m.seq > seq {
			younger = append(younger, m)
		}
	}
	return younger, len(q.events)
}

// nextEvent returns the oldest event without taking it.
func (q *queue) nextEvent() (message, bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.events) == 0 {
		return message{}, false
	}
	return q.events[0], true
}

// eventDone takes the event away, now that the broker has it. It may be gone
// already if the outbox overflowed meanwhile.
func (q *queue) eventDone(seq uint64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.events) > 0 && q.events[0].seq == seq {
		q.events = q.events[1:]
		poke(q.keep)
	}
}

// takeStates returns up to n states that the broker does not have yet.
func (q *queue) takeStates(n int) []message {
	q.mu.Lock()
	defer q.mu.Unlock()
	n = min(n, len(q.dirty))
	out := make([]message, 0, n)
	for _, topic := range q.dirty[:n] {
		delete(q.queued, topic)
		out = append(out, q.states[topic])
	}
	q.dirty = q.dirty[n:]
	return out
}

// stateDone forgets a topic whose removal the broker has.
func (q *queue) stateDone(m message) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(m.payload) == 0 && q.states[m.topic].seq == m.seq {
		delete(q.states, m.topic)
	}
}

// resend marks every state for sending again, as a new connection needs.
func (q *queue) resend() {
	q.mu.Lock()
	defer q.mu.Unlock()
	for topic := range q.states {
		q.enqueue(topic)
	}
}

// again marks one topic's latest state for sending again.
func (q *queue) again(topic string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if _, ok := q.states[topic]; ok {
		q.enqueue(topic)
	}
}

// waiting returns how many events and states wait, and what was lost.
func (q *queue) waiting() (events, states int, lost, stale uint64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.events), len(q.dirty), q.lost, q.stale
}
