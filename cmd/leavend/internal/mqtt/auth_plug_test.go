package mqtt

import (
	"testing"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"leavend/control/plug"
)

// forged is what only an attacker publishes in these tests.
const forged = "forged"

// No client but our own reaches the plug, by whatever topic it can be
// commanded and in any case of letters, and only the plug's login speaks
// as the plug. The topics of the firmwares are from their documentation.
func TestOnlyThePlugIsThePlug(t *testing.T) {
	tests := []struct {
		kind, device string
		forbidden    []string // to everybody else
		plugMay      []string
		othersMay    []string
	}{
		{"tasmota", "oven",
			[]string{"cmnd/oven/Backlog0", "cmnd/oven/backlog0", "cmnd/oven/Backlog", "cmnd/oven/Power1", "cmnd/oven/POWER", "cmnd/oven/power", "cmnd/oven/PulseTime1", "cmnd/oven/Event",
				"CMND/OVEN/power1", "cmnd/tasmotas/POWER", "cmnd/DVES_A1B2C3_fb/Power1", "cmnd/kitchen-group/power", "stat/oven/POWER", "stat/oven/RESULT", "tele/oven/STATE", "tele/oven/LWT"},
			[]string{"stat/oven/POWER", "stat/oven/RESULT", "tele/oven/LWT"}, []string{"cmnd/lamp/POWER", "stat/lamp/POWER", "shed/height"}},
		{"shelly", "kitchen/mat",
			[]string{"kitchen/mat/rpc", "kitchen/mat/command/switch:0", "leavend-mat/rpc", "kitchen/mat/status/switch:0", "kitchen/mat/online"},
			[]string{"leavend-mat/rpc", "kitchen/mat/status/switch:0"}, []string{"kitchen/lamp/rpc"}},
		{"zigbee2mqtt", "zigbee2mqtt/mat",
			[]string{"zigbee2mqtt/mat/set", "zigbee2mqtt/mat/set/state", "zigbee2mqtt/mat/l1/set", "zigbee2mqtt/bridge/request/group/members/add", "zigbee2mqtt/mat", "zigbee2mqtt/mat/availability"},
			[]string{"zigbee2mqtt/mat", "zigbee2mqtt/lamp"}, []string{"zigbee2mqtt/lamp/set"}},
		{"esphome", "oven",
			[]string{"oven/lease", "oven/switch/mat/command", "oven/state"}, []string{"oven/state"}, []string{"shed/state"}},
	}
	for _, tt := range tests {
		t.Run(tt.kind, func(t *testing.T) {
			recipe, err := plug.ByName(tt.kind, tt.device, 1)
			if err != nil {
				t.Fatal(err)
			}
			access := PlugAccess{User: "plug", CommandTopics: recipe.Obeys, StateTopics: recipe.Says, Bridge: recipe.Bridge}
			users := []User{{Name: "plug", Password: password("p")}, {Name: "baker", Password: password("p")}}
			b, c := kitchen(t, BrokerOpts{Users: users, Plug: access, Open: []string{"hub/status"}}, Opts{})
			witness := new(reader)
			if err := c.Subscribe("#", witness.take); err != nil {
				t.Fatal(err)
			}
			run(t, c.Run)
			eventually(t, "our own client is in", c.subscribed)
			as := func(user string) mqtt.Client {
				o := mqtt.NewClientOptions().SetUsername(user).SetPassword("p")
				client, err := enter(t, o, "mqtt://"+b.Address().String())
				if err != nil {
					t.Fatal(err)
				}
				return client
			}
			device, baker := as("plug"), as("baker")
			// What it listens to besides what its recipe knows.
			for _, filter := range []string{"cmnd/kitchen-group/#", "cmnd/DVES_A1B2C3_fb/#", "hub/status"} {
				device.Subscribe(filter, 1, nil).Wait()
			}
			for _, topic := range tt.forbidden {
				// The broker throws out who is not allowed to (QoS 1).
				forger := as("baker")
				forger.Publish(topic, 0, false, forged).Wait()
				forger.Publish(topic, 1, true, forged).Wait()
				o := mqtt.NewClientOptions().SetUsername("baker").SetPassword("p").SetWill(topic, forged, 1, true)
				if _, err := enter(t, o, "mqtt://"+b.Address().String()); err == nil {
					t.Errorf("a last will on %s came in", topic)
				}
			}
			as("plug").Publish("leavend/mat/mode/set", 1, false, forged).Wait()
			for _, topic := range tt.plugMay {
				device.Publish(topic, 1, false, "plug").Wait()
			}
			for _, topic := range append(tt.othersMay, "hub/status", "leavend/mat/mode/set") {
				baker.Publish(topic, 1, false, "honest").Wait()
			}
			if err := c.Command(recipe.Off()[0].Topic, "ours"); err != nil {
				t.Fatal(err)
			}
			for _, topic := range tt.plugMay {
				eventually(t, "the plug's word on "+topic, func() bool { return len(witness.find(topic, "plug")) == 1 })
			}
			for _, topic := range append(tt.othersMay, "hub/status", "leavend/mat/mode/set") {
				eventually(t, "another's word on "+topic, func() bool { return len(witness.find(topic, "honest")) == 1 })
			}
			eventually(t, "our command", func() bool { return len(witness.find(recipe.Off()[0].Topic, "ours")) == 1 })
			witness.mu.Lock()
			defer witness.mu.Unlock()
			for _, in := range witness.seen {
				if string(in.Payload) == forged {
					t.Errorf("%s was forged", in.Topic)
				}
			}
		})
	}
}

// Without a login of its own nothing tells the plug from others, but no group's
// topic reaches it.
func TestPlugWithoutLogin(t *testing.T) {
	recipe, err := plug.ByName("tasmota", "oven", 1)
	if err != nil {
		t.Fatal(err)
	}
	d := &authHook{prefix: "leavend", plug: PlugAccess{CommandTopics: append(recipe.Obeys, recipe.Groups...)}}
	for topic, may := range map[string]bool{"cmnd/any-group/power": false, "Cmnd/oven/POWER": false, "stat/oven/POWER": true, "shed/height": true} {
		if got := d.mayWrite("", topic); got != may {
			t.Errorf("%s: %v, want %v", topic, got, may)
		}
	}
}
