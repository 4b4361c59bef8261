package mqtt

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// birthSpread is how long we wait at most before we answer a hub's birth, so
// that ten boards do not answer in the same instant.
const birthSpread = 2 * time.Second

// meetHub announces our devices and clears away those that are no longer
// configured. With discovery off it clears away all.
func (c *Client) meetHub() {
	if c.opts.Discovery {
		c.announceAll()
		_ = c.subscribe(c.opts.DiscoveryPrefix+"/status", 1, c.birth)
	}
	c.glance(c.opts.DiscoveryPrefix+"/device/+/config", c.sweepDevice)
	c.glance(c.topics.State("+"), c.sweepState)
	c.glance(c.topics.Available("+"), c.sweepState)
}

// glance subscribes for what the broker has kept, and only for that: each
// connection gives the subscription up again, for our own states would come
// back through it for ever.
func (c *Client) glance(filter string, read func(Inbound)) {
	_ = c.subscribe(filter, 0, read) // a filter of ours, which passed checkPrefix
	c.glances = append(c.glances, filter)
}

// lookAway ends the glances of one connection.
func (c *Client) lookAway(s *session) {
	time.AfterFunc(c.timing.glance, func() { s.lib.Unsubscribe(c.glances...) })
}

func (c *Client) announceAll() {
	for _, m := range c.announcements() {
		c.queue.state(m.topic, m.payload)
	}
}

// birth answers a hub that has just started: it wants every device again, and
// then their states. A retained birth is answered by our connection itself.
func (c *Client) birth(in Inbound) {
	if in.Retained || string(in.Payload) != string(upDown(true)) {
		return
	}
	time.Sleep(rand.N(c.timing.birthSpread))
	c.log.Info("the home hub has started; announcing our devices again")
	c.announceAll()
	c.queue.resend()
}

// sweepDevice takes back a device of ours that the config does not name any
// more. It is ours if its availability is our status topic.
func (c *Client) sweepDevice(in Inbound) {
	if !in.Retained || len(in.Payload) == 0 || c.announced(in.Topic) {
		return
	}
	var device struct {
		Availability []struct {
			Topic string `json:"topic"`
		} `json:"availability"`
	}
	if json.Unmarshal(in.Payload, &device) != nil || len(device.Availability) == 0 || device.Availability[0].Topic != c.topics.Status() {
		return
	}
	c.clear(in.Topic)
}

// announced reports whether a discovery topic is one of those we use.
func (c *Client) announced(topic string) bool {
	vessels, mats := c.opts.ids()
	return c.opts.Discovery && slices.ContainsFunc(append(vessels, mats...), func(id string) bool { return c.announceTopic(id) == topic })
}

// sweepState clears the retained state of a vessel or mat that is gone.
func (c *Client) sweepState(in Inbound) {
	vessels, mats := c.opts.ids()
	id, _, _ := strings.Cut(strings.TrimPrefix(in.Topic, c.opts.Prefix+"/"), "/")
	if in.Retained && len(in.Payload) > 0 && !slices.Contains(append(vessels, mats...), id) {
		c.clear(in.Topic)
	}
}

func (c *Client) clear(topic string) {
	c.log.Info("cleared what an earlier configuration had left at the broker", "topic", topic)
	c.queue.state(topic, nil)
}
