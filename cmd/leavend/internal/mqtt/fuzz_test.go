package mqtt

import "testing"

// FuzzInbound feeds strangers' topics and payloads to everything that reads
// them: nothing may panic, and nothing but a well-formed command is obeyed.
func FuzzInbound(f *testing.F) {
	f.Add("homeassistant/device/x/config", []byte(`{"availability":[{"topic":"leavend/status"}]}`), true)
	f.Add("leavend/gone/state", []byte(`{}`), true)
	f.Add("leavend/mat/setpoint/set", []byte("27"), false)
	f.Add("homeassistant/status", []byte("offline"), false)
	f.Fuzz(func(t *testing.T, topic string, payload []byte, retained bool) {
		obeyed := func(w Command) error {
			if retained || w.Subject != "mat" && w.Subject != "bramble" {
				t.Errorf("obeyed %+v from %q %q, retained %v", w, topic, payload, retained)
			}
			return nil
		}
		c, err := New("mqtt://broker.example", Opts{
			Discovery: true, Vessels: []VesselInfo{{ID: "bramble"}}, Mats: []MatInfo{{ID: "mat"}}, Command: obeyed,
		})
		if err != nil {
			t.Fatal(err)
		}
		c.timing.birthSpread = 1
		in := Inbound{Topic: topic, Payload: payload, Retained: retained}
		for _, sub := range c.subs.all {
			if matches(sub.filter, topic) {
				sub.read(in)
			}
		}
		for _, m := range c.queue.takeStates(100) {
			if len(m.payload) == 0 && (!retained || c.hub.announced(m.topic) || m.topic == c.topics.State("mat") || m.topic == c.topics.State("bramble")) {
				t.Errorf("%q %q made us clear %s", topic, payload, m.topic)
			}
		}
	})
}
