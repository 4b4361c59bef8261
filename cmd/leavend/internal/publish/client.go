package publish

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/fnv"
	"log/slog"
	"net/url"
	"sync"
	"sync/atomic"
	"time"
)

// ErrNotConnected says that a command was refused because there is no
// connection to the broker at this moment.
var ErrNotConnected = errors.New("publish: not connected to the broker")

// Client speaks with one broker. Its methods may be called from any goroutine
// and before, during and after Run.
type Client struct {
	topics  Topics
	url     *url.URL
	opts    Opts
	id      string
	log     *slog.Logger
	queue   *queue
	journal *journal // nil without one; belongs to Run
	timing  timing
	started time.Time
	glances []string // filters that each connection gives up again; fixed in New

	live atomic.Pointer[session] // the present connection, nil if there is none
	tell counters

	mu      sync.Mutex // guards all below
	subs    []*subscription
	since   time.Time
	trouble string
}

// counters are the parts of Stats that many goroutines add to.
type counters struct {
	connections, events, states, commands, refused atomic.Uint64
	wishes, wishesRefused, inboundLost             atomic.Uint64
}

// New returns a client for the broker at address, mqtt://host:1883 or
// mqtts://host:8883. It does not connect; Run does.
func New(address string, o Opts) (*Client, error) {
	u, err := checkURL(address)
	if err != nil {
		return nil, err
	}
	if o.Prefix == "" {
		o.Prefix = DefaultPrefix
	}
	if err := checkPrefix(o.Prefix); err != nil {
		return nil, err
	}
	if o.DiscoveryPrefix == "" {
		o.DiscoveryPrefix = DefaultDiscoveryPrefix
	}
	if err := checkPrefix(o.DiscoveryPrefix); err != nil {
		return nil, err
	}
	vessels, mats := o.ids()
	if err := checkIDs(append(vessels, mats...)...); err != nil {
		return nil, err
	}
	if o.Outbox < 0 {
		return nil, fmt.Errorf("publish: outbox of %d events: want 1 or more", o.Outbox)
	}
	if o.Outbox == 0 {
		o.Outbox = 4096
	}
	if o.User == "" && u.User != nil {
		o.User = u.User.Username()
		o.Password, _ = u.User.Password()
	}
	u.User = nil
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	c := &Client{
		topics: Topics{o.Prefix}, url: u, opts: o, id: clientID(o.ClientID), log: o.Log,
		queue: newQueue(o.Outbox), timing: usualTiming(), started: time.Now(),
	}
	if o.Journal != "" {
		c.journal = &journal{path: o.Journal, log: o.Log}
		if err := c.journal.recall(c.queue); err != nil {
			o.Log.Error("the events of the last run cannot be read", "err", err)
		}
	}
	c.about()
	c.subscribeWishes()
	c.meetHub()
	return c, nil
}

// clientID ends in chance, so that two boards with one config do not throw each
// other off the broker for ever. It keeps to the 23 characters that every
// broker must take (MQTT 3.1.1, 3.1.3.1).
func clientID(begin string) string {
	if begin == "" {
		begin = "leavend"
	}
	var b [4]byte
	rand.Read(b[:])
	return begin[:min(len(begin), 14)] + "-" + hex.EncodeToString(b[:])
}

// Topics returns the names under which the client publishes.
func (c *Client) Topics() Topics { return c.topics }

// Vessel publishes the state of a jar or bowl.
func (c *Client) Vessel(v Vessel) {
	c.queue.state(c.topics.State(v.ID), v.Payload())
	c.queue.state(c.topics.Available(v.ID), upDown(v.Available))
}

// Mat publishes the state of a mat.
func (c *Client) Mat(m Mat) { c.queue.state(c.topics.State(m.ID), m.Payload()) }

// Event puts an event into the outbox. If that is full, the oldest event goes
// for this one, which is counted and told.
func (c *Client) Event(e Event) {
	if e.ID == "" {
		e.ID = eventID(e)
	}
	_, _, before, _ := c.queue.waiting()
	c.queue.event(message{topic: c.topics.Event(e.Subject), payload: e.Payload()})
	_, _, lost, _ := c.queue.waiting()
	if lost == before {
		return
	}
	if before == 0 {
		c.log.Error("outbox full: the oldest event is lost", "held", c.opts.Outbox)
	}
	c.about()
}

// eventID is the same for the same event told again, after a restart too, and
// differs between two events of one instant.
func eventID(e Event) string {
	text := fnv.New32a()
	text.Write([]byte(e.Text))
	return fmt.Sprintf("%s-%s-%d-%08x", e.Subject, e.Kind, e.At.UnixMilli(), text.Sum32())
}

// about tells what the daemon is and whether it lost events.
func (c *Client) about() {
	_, _, lost, _ := c.queue.waiting()
	vessels, mats := c.opts.ids()
	c.queue.state(c.topics.About(), encode(struct {
		TS      *time.Time `json:"ts"`
		Version string     `json:"version"`
		Vessels []string   `json:"vessels"`
		Mats    []string   `json:"mats"`
		Lost    uint64     `json:"events_lost"`
	}{stamp(c.started), c.opts.Version, vessels, mats, lost}))
}

// Connected reports whether there is a connection to the broker now.
func (c *Client) Connected() bool {
	s := c.live.Load()
	return s != nil && s.open()
}

// Command sends payload to a plug's command topic now, or returns why not. It is
// never queued, retained or repeated; nil says only that the network took it,
// and the plug's own echo says the rest. It returns within about two seconds.
func (c *Client) Command(topic, payload string) error {
	if err := CheckTopic(topic); err != nil {
		return fmt.Errorf("publish: command: %w", err)
	}
	s := c.live.Load()
	if s == nil || !s.open() {
		c.tell.refused.Add(1)
		return ErrNotConnected
	}
	if err := s.now(topic, payload); err != nil {
		c.tell.refused.Add(1)
		return err
	}
	c.tell.commands.Add(1)
	return nil
}

// Stats returns the client's counters and how it stands.
func (c *Client) Stats() Stats {
	events, states, lost, stale := c.queue.waiting()
	c.mu.Lock()
	since, trouble := c.since, c.trouble
	c.mu.Unlock()
	return Stats{
		Connected: c.Connected(), Connections: c.tell.connections.Load(), Since: since, Trouble: trouble,
		EventsWaiting: events, EventsSent: c.tell.events.Load(), EventsLost: lost,
		StatesWaiting: states, StatesSent: c.tell.states.Load(), StatesStale: stale,
		Commands: c.tell.commands.Load(), Refused: c.tell.refused.Load(),
		Wishes: c.tell.wishes.Load(), WishesRefused: c.tell.wishesRefused.Load(),
		InboundLost: c.tell.inboundLost.Load(),
	}
}
