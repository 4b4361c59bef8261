package mqtt

import (
	"encoding/json"
	"log/slog"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// birthSpread is how long we wait at most before we answer a hub's birth, so
// that ten boards do not answer in the same instant.
const birthSpread = 2 * time.Second

// hub keeps what a home hub and the broker know of our devices in step with the
// configuration.
type hub struct {
	discovery
	queue *queue
	log   *slog.Logger
}

// announceAll has each device announced.
func (h *hub) announceAll() {
	for _, m := range h.announcements() {
		h.queue.state(m.topic, m.payload)
	}
}

// retainedFilters are where the broker may still have what an earlier
// configuration retained, and who reads it.
func (h *hub) retainedFilters() map[string]func(Inbound) {
	return map[string]func(Inbound){
		h.opts.DiscoveryPrefix + "/device/+/config": h.removeDevice,
		h.opts.DiscoveryPrefix + "/time/+/+/config": h.removeDevice,
		h.topics.State("+"):                         h.removeState,
		h.topics.Available("+"):                     h.removeState,
	}
}

// birth answers a hub that has just started: it wants every device again, and
// then their states. A retained birth is answered by our connection itself.
func (h *hub) birth(in Inbound, spread time.Duration) {
	if in.Retained || string(in.Payload) != string(upDown(true)) {
		return
	}
	time.Sleep(rand.N(spread))
	h.log.Info("the home hub has started; announcing our devices again")
	h.announceAll()
	h.queue.resend()
}

// removeDevice takes back a device of ours that the config no longer
// names. It is ours if its availability is our status topic.
func (h *hub) removeDevice(in Inbound) {
	if !in.Retained || len(in.Payload) == 0 || h.announced(in.Topic) {
		return
	}
	var device struct {
		Availability []struct {
			Topic string `json:"topic"`
		} `json:"availability"`
	}
	if json.Unmarshal(in.Payload, &device) != nil || len(device.Availability) == 0 || device.Availability[0].Topic != h.topics.Status() {
		return
	}
	h.clear(in.Topic)
}

// removeState clears the retained state of a vessel or mat that is gone.
func (h *hub) removeState(in Inbound) {
	vessels, mats := h.opts.ids()
	id, _, _ := strings.Cut(strings.TrimPrefix(in.Topic, h.opts.Prefix+"/"), "/")
	if in.Retained && len(in.Payload) > 0 && !slices.Contains(append(vessels, mats...), id) {
		h.clear(in.Topic)
	}
}

// clear takes a retained message away from the broker.
func (h *hub) clear(topic string) {
	h.log.Info("cleared what an earlier configuration had left at the broker", "topic", topic)
	h.queue.state(topic, nil)
}
