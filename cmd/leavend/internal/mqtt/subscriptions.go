package mqtt

import (
	"fmt"
	"strconv"
	"sync"
	"sync/atomic"
)

// maxInbound is the largest payload that a reader gets, in bytes. A reading, a
// command or a plug's echo is far smaller.
const maxInbound = 64 << 10

// mailboxSize is how many messages of one subscription may wait for its reader.
const mailboxSize = 64

// Inbound is a message that came in.
type Inbound struct {
	Topic    string
	Payload  []byte
	Retained bool // the broker kept it; its age is unknown
}

// subscription is one reader of a topic and the mailbox in front of it.
type subscription struct {
	filter string
	qos    byte
	read   func(Inbound)
	lost   *atomic.Uint64

	mu      sync.Mutex // guards all below
	waiting []Inbound
	running bool
}

// subscriptions are all readers of a client; they hold across reconnections.
type subscriptions struct {
	lost atomic.Uint64 // messages that came faster than their reader

	mu  sync.Mutex // guards all
	all []*subscription
}

// add has read called, one message at a time and in order, for each message
// that filter matches.
func (s *subscriptions) add(filter string, qos byte, read func(Inbound)) error {
	if filter == "" || len(filter) > 1024 {
		return fmt.Errorf("mqtt: subscribe %q: want a topic of 1 to 1024 bytes", filter)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all = append(s.all, &subscription{filter: filter, qos: qos, read: read, lost: &s.lost})
	return nil
}

// filters returns what to ask the broker for, and with which QoS.
func (s *subscriptions) filters() map[string]byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	filters := make(map[string]byte, len(s.all)+1)
	for _, sub := range s.all {
		filters[sub.filter] = max(filters[sub.filter], sub.qos)
	}
	return filters
}

// deliver hands a message to each reader that wants it, and never waits.
func (s *subscriptions) deliver(in Inbound) {
	if len(in.Payload) > maxInbound {
		s.lost.Add(1)
		return
	}
	s.mu.Lock()
	all := s.all
	s.mu.Unlock()
	for _, sub := range all {
		if matches(sub.filter, in.Topic) {
			sub.put(in)
		}
	}
}

// put adds a message to the mailbox and starts to empty it.
func (s *subscription) put(in Inbound) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.waiting) >= mailboxSize {
		s.waiting = s.waiting[1:]
		s.lost.Add(1)
	}
	s.waiting = append(s.waiting, in)
	if !s.running {
		s.running = true
		go s.drain()
	}
}

// drain calls the reader until the mailbox is empty.
func (s *subscription) drain() {
	for {
		s.mu.Lock()
		if len(s.waiting) == 0 {
			s.running, s.waiting = false, nil
			s.mu.Unlock()
			return
		}
		in := s.waiting[0]
		s.waiting = s.waiting[1:]
		s.mu.Unlock()
		s.read(in)
	}
}

// clip shows the beginning of what a stranger sent, safe to log.
func clip(s string) string {
	const most = 40
	if len(s) > most {
		return strconv.Quote(s[:most]) + "..."
	}
	return strconv.Quote(s)
}
