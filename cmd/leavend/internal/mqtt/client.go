package mqtt

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"sync"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
)

// ErrNotConnected says that a command was refused because there is no
// connection to the broker at this moment.
var ErrNotConnected = errors.New("mqtt: not connected to the broker")

// Client speaks with one broker. Its methods may be called from any goroutine
// and before, during and after Run.
type Client struct {
	topics  Topics
	url     *url.URL
	opts    Opts
	id      string
	log     *slog.Logger
	queue   *queue
	events  *event.Consumer
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
	connections, events, lost, states, commands, refused atomic.Uint64
	wishes, commandsRefused, inboundLost                 atomic.Uint64
}

// New returns a client for the broker at address, mqtt://host:1883 or
// mqtts://host:8883. It does not connect; Run does.
func New(address string, o Opts) (*Client, error) {
	u, err := config.BrokerURL(address)
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
	if o.Events == nil {
		if o.Events, err = memoryLog(); err != nil {
			return nil, err
		}
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
		queue: newQueue(), events: o.Events.Events(consumer), timing: usualTiming(), started: time.Now(),
	}
	c.about()
	c.subscribeCommands()
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

// about tells what the daemon is and whether it lost events.
func (c *Client) about() {
	vessels, mats := c.opts.ids()
	c.queue.state(c.topics.About(), encode(struct {
		TS      *time.Time `json:"ts"`
		Version string     `json:"version"`
		Vessels []string   `json:"vessels"`
		Mats    []string   `json:"mats"`
		Lost    uint64     `json:"events_lost"`
	}{stamp(c.started), c.opts.Version, vessels, mats, c.events.Lost()}))
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
		return fmt.Errorf("mqtt: command: %w", err)
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
	states, stale := c.queue.waiting()
	c.mu.Lock()
	since, trouble := c.since, c.trouble
	c.mu.Unlock()
	return Stats{
		Connected: c.Connected(), Connections: c.tell.connections.Load(), Since: since, Trouble: trouble,
		EventsWaiting: len(c.events.Waiting(time.Now())), EventsSent: c.tell.events.Load(), EventsLost: c.events.Lost(),
		StatesWaiting: states, StatesSent: c.tell.states.Load(), StatesStale: stale,
		PlugCommands: c.tell.commands.Load(), PlugRefused: c.tell.refused.Load(),
		Commands: c.tell.wishes.Load(), CommandsRefused: c.tell.commandsRefused.Load(),
		InboundLost: c.tell.inboundLost.Load(),
	}
}
