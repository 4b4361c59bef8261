package mqtt

import (
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config"
)

// ErrNotConnected says that a command was refused because there is no
// connection to the broker at this moment.
var ErrNotConnected = errors.New("mqtt: not connected to the broker")

// Client speaks with one broker. Its methods may be called from any goroutine
// and before, during and after Run.
type Client struct {
	topics   Topics
	url      *url.URL
	opts     Opts
	id       string
	log      *slog.Logger
	timing   timing
	started  time.Time
	retained []string // filters that each connection gives up again; fixed in New

	queue    *queue // of states
	events   *eventSender
	subs     *subscriptions
	commands *commandReceiver
	hub      *hub
	state    *connectionState
	live     atomic.Pointer[session] // the present connection, nil if there is none

	states, plugCommands, plugRefused atomic.Uint64 // see Stats
}

// New returns a client for the broker at address, mqtt://host:1883 or
// mqtts://host:8883. It does not connect; Run does.
func New(address string, o Opts) (*Client, error) {
	u, err := config.BrokerURL(address)
	if err != nil {
		return nil, err
	}
	u.User = nil // the login comes from Opts
	if err := o.complete(); err != nil {
		return nil, err
	}
	c := &Client{topics: Topics{o.Prefix}, url: u, opts: o, id: clientID(o.ClientID), log: o.Log, timing: usualTiming(), started: time.Now()}
	c.queue, c.subs = newQueue(), new(subscriptions)
	c.state = &connectionState{broker: u.Host, log: o.Log}
	c.events = &eventSender{topics: c.topics, journal: o.Events, consumer: o.Events.Events(consumer), log: o.Log, lostMore: c.about}
	c.commands = &commandReceiver{topics: c.topics, execute: o.Command, queue: c.queue, events: c.events, log: o.Log}
	c.hub = &hub{discovery: discovery{c.topics, o}, queue: c.queue, log: o.Log}
	c.about()
	c.listen()
	return c, nil
}

// complete fills in the defaults and checks the names.
func (o *Opts) complete() (err error) {
	o.Prefix, o.DiscoveryPrefix = cmp.Or(o.Prefix, DefaultPrefix), cmp.Or(o.DiscoveryPrefix, DefaultDiscoveryPrefix)
	vessels, mats := o.ids()
	if err := errors.Join(checkPrefix(o.Prefix), checkPrefix(o.DiscoveryPrefix), checkIDs(append(vessels, mats...)...)); err != nil {
		return err
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Events == nil {
		o.Events, err = memoryLog()
	}
	return err
}

// listen makes the subscriptions that every client has: commands, the home
// hub's birth, and what the broker has retained of an earlier configuration.
func (c *Client) listen() {
	vessels, mats := c.opts.ids()
	c.commands.subscribe(c.subs, vessels, mats)
	// The filters are ours and passed checkPrefix, so none is refused.
	if c.opts.Discovery {
		c.hub.announceAll()
		_ = c.subs.add(c.opts.DiscoveryPrefix+"/status", 1, func(in Inbound) { c.hub.birth(in, c.timing.birthSpread) })
	}
	for filter, read := range c.hub.retainedFilters() {
		_ = c.subs.add(filter, 0, read)
		c.retained = append(c.retained, filter)
	}
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
	c.queue.state(c.topics.State(v.ID), encode(v))
	c.queue.state(c.topics.Available(v.ID), upDown(v.Available))
}

// Mat publishes the state of a mat.
func (c *Client) Mat(m Mat) { c.queue.state(c.topics.State(m.ID), encode(m)) }

// Daemon publishes the daemon's own state.
func (c *Client) Daemon(d Daemon) { c.queue.state(c.topics.Daemon(), encode(d)) }

// about tells what the daemon is and whether it lost events.
func (c *Client) about() {
	vessels, mats := c.opts.ids()
	c.queue.state(c.topics.About(), encode(struct {
		TS      Time     `json:"ts"`
		Version string   `json:"version"`
		Vessels []string `json:"vessels"`
		Mats    []string `json:"mats"`
		Lost    uint64   `json:"events_lost"`
	}{Time{c.started}, c.opts.Version, vessels, mats, c.events.consumer.Lost()}))
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
		c.plugRefused.Add(1)
		return ErrNotConnected
	}
	if err := s.publishNow(topic, payload); err != nil {
		c.plugRefused.Add(1)
		return err
	}
	c.plugCommands.Add(1)
	return nil
}

// Subscribe has read called, one message at a time and in order, for each
// message that filter matches; it holds across reconnections. If read is
// slower than the messages, the oldest of those that wait are dropped and
// counted.
func (c *Client) Subscribe(filter string, read func(Inbound)) error {
	if err := c.subs.add(filter, 0, read); err != nil {
		return err
	}
	if s := c.live.Load(); s != nil && s.open() {
		go s.subscribe(map[string]byte{filter: 0})
	}
	return nil
}

// receive takes a message from the library and never waits.
func (c *Client) receive(m mqtt.Message) {
	in := Inbound{Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained()}
	if in.Topic == c.topics.Status() {
		c.repairStatus(in)
	}
	c.subs.deliver(in)
}

// repairStatus says online again. After a power cut the broker may find the old
// connection dead only after we are back, and its last will then stands over
// our online.
func (c *Client) repairStatus(in Inbound) {
	s := c.live.Load()
	if string(in.Payload) == string(upDown(true)) || s == nil || !s.greeted.Load() {
		return
	}
	s.lib.Publish(c.topics.Status(), 1, true, upDown(true))
}

// Stats returns the client's counters and how it stands.
func (c *Client) Stats() Stats {
	states, stale := c.queue.waiting()
	since, trouble, noLogin := c.state.now()
	return Stats{
		Connected: c.Connected(), Connections: c.state.made.Load(), Since: since, Trouble: trouble, NoLogin: noLogin,
		EventsWaiting: len(c.events.consumer.Waiting(time.Now())), EventsSent: c.events.sent.Load(), EventsLost: c.events.consumer.Lost(),
		StatesWaiting: states, StatesSent: c.states.Load(), StatesStale: stale,
		PlugCommands: c.plugCommands.Load(), PlugRefused: c.plugRefused.Load(),
		Commands: c.commands.executed.Load(), CommandsRefused: c.commands.refused.Load(),
		InboundLost: c.subs.lost.Load(),
	}
}
