package mqtt

import (
	"fmt"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// maxInbound is the largest payload that a reader gets, in bytes. A reading, a
// wish or a plug's echo is far smaller.
const maxInbound = 64 << 10

// mailboxSize is how many messages of one subscription may wait for its reader.
const mailboxSize = 64

// Inbound is a message that came in.
type Inbound struct {
	Topic    string
	Payload  []byte
	At       time.Time // when it came
	Retained bool      // the broker kept it; nobody knows how old it is
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

// Subscribe has read called, one message at a time and in order, for each
// message that filter matches; it holds across reconnections. If read is
// slower than the messages, the oldest of those that wait are dropped and
// counted.
func (c *Client) Subscribe(filter string, read func(Inbound)) error {
	return c.subscribe(filter, 0, read)
}

func (c *Client) subscribe(filter string, qos byte, read func(Inbound)) error {
	if filter == "" || len(filter) > 1024 {
		return fmt.Errorf("mqtt: subscribe %q: want a topic of 1 to 1024 bytes", filter)
	}
	sub := &subscription{filter: filter, qos: qos, read: read, lost: &c.tell.inboundLost}
	c.mu.Lock()
	c.subs = append(c.subs, sub)
	c.mu.Unlock()
	if s := c.live.Load(); s != nil && s.open() {
		go s.subscribe(map[string]byte{filter: qos})
	}
	return nil
}

// receive takes a message from the library and never waits.
func (c *Client) receive(m mqtt.Message) {
	in := Inbound{Topic: m.Topic(), Payload: m.Payload(), At: time.Now(), Retained: m.Retained()}
	if len(in.Payload) > maxInbound {
		c.tell.inboundLost.Add(1)
		return
	}
	if in.Topic == c.topics.Status() {
		c.noteStatus(in)
	}
	c.mu.Lock()
	subs := c.subs
	c.mu.Unlock()
	for _, sub := range subs {
		if matches(sub.filter, in.Topic) {
			sub.put(in)
		}
	}
}

// noteStatus repairs the status topic. After a power cut the broker may find
// the old connection dead only after we are back, and its last will then
// stands over our online.
func (c *Client) noteStatus(in Inbound) {
	s := c.live.Load()
	if string(in.Payload) == string(upDown(true)) || s == nil || !s.greeted.Load() {
		return
	}
	s.lib.Publish(c.topics.Status(), 1, true, upDown(true))
}

// put adds a message to the mailbox and sees that somebody empties it.
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
