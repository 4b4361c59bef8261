package mqtt

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

// queue holds the states that wait for the broker: the latest of each topic.
// Its callers never wait.
type queue struct {
	wake chan struct{} // holds one token while there may be work

	mu     sync.Mutex // guards all below
	seq    uint64
	states map[string]message
	dirty  []string // topics whose latest state is not with the broker, oldest first
	queued map[string]bool
	stale  uint64 // states replaced before they were sent
}

func newQueue() *queue {
	return &queue{wake: make(chan struct{}, 1), states: make(map[string]message), queued: make(map[string]bool)}
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
func (q *queue) signal() { signalOnce(q.wake) }

// signalOnce leaves a token in a channel that holds one.
func signalOnce(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
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

// waiting returns how many states wait, and how many were replaced.
func (q *queue) waiting() (states int, stale uint64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.dirty), q.stale
}
