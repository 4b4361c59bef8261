package plug

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Message is one MQTT message.
type Message struct {
	Topic   string
	Payload []byte
}

// Recipe is how one kind of plug is spoken to. On must carry or renew the
// plug's own switch-off timer.
type Recipe struct {
	Name  string // for people
	On    func(lease time.Duration) []Message
	Off   func() []Message
	Echo  []string                                            // topics on which the plug says what it does
	Parse func(topic string, payload []byte) (on, known bool) // reads one message from Echo
}

// check refuses a recipe that could not work.
func (r Recipe) check() error {
	if r.On == nil || r.Off == nil || r.Parse == nil || len(r.Echo) == 0 {
		return fmt.Errorf("plug %s: the recipe lacks an on, an off or an echo", r.Name)
	}
	for _, m := range append(r.On(time.Minute), r.Off()...) {
		if err := checkTopic(m.Topic); err != nil {
			return fmt.Errorf("plug %s: %w", r.Name, err)
		}
	}
	for _, t := range r.Echo {
		if err := checkTopic(t); err != nil {
			return fmt.Errorf("plug %s: %w", r.Name, err)
		}
	}
	return nil
}

func (r Recipe) topics() []string { return append([]string(nil), r.Echo...) }

// checkTopic applies what MQTT 3.1.1 section 4.7 asks of a topic name.
func checkTopic(t string) error {
	if t == "" || strings.HasPrefix(t, "/") || len(t) > 200 || strings.ContainsAny(t, "+#\x00") {
		return fmt.Errorf("%q is no topic name; it must not be empty, begin with / or hold + or #", t)
	}
	return nil
}

// ByName returns a ready recipe, with the plug's topic as its firmware knows it. The
// relay counts from 1 and matters only to plugs that have several.
//
//	tasmota      the Topic set in the plug; sets PulseTime with every on
//	zigbee2mqtt  base topic and friendly name; sends on_time with every on
//	shelly       the MQTT prefix of a second-generation device; toggle_after
//	esphome      a topic of your choice; the device needs the configuration
//	             in Firmware, which keeps the timer
func ByName(name, topic string, relay int) (Recipe, error) {
	if err := checkTopic(topic); err != nil {
		return Recipe{}, fmt.Errorf("plug topic: %w", err)
	}
	if relay < 1 || relay > 32 {
		return Recipe{}, fmt.Errorf("plug relay: %d is outside 1 to 32", relay)
	}
	switch name {
	case "tasmota":
		return tasmota(topic, relay), nil
	case "zigbee2mqtt":
		return zigbee2mqtt(topic), nil
	case "shelly":
		return shelly(topic, relay), nil
	case "esphome":
		return esphome(topic), nil
	}
	return Recipe{}, fmt.Errorf("plug recipe: %q is not tasmota, zigbee2mqtt, shelly or esphome", name)
}

// seconds rounds a lease down to whole seconds, at least one.
func seconds(lease time.Duration) int { return max(int(lease/time.Second), 1) }

// pulseTime encodes a lease as Tasmota's PulseTime: 1 to 111 are tenths of a
// second, 112 to 64900 are seconds plus 100 (Tasmota command reference).
func pulseTime(lease time.Duration) int {
	if s := seconds(lease); s >= 12 {
		return min(s+100, 64900)
	}
	return max(int(lease/(100*time.Millisecond)), 1)
}

// tasmota sets the timer and switches in one Backlog0, which runs its
// commands in order and without pauses, so that no on is without its timer.
func tasmota(topic string, relay int) Recipe {
	power := "POWER"
	if relay > 1 {
		power += strconv.Itoa(relay)
	}
	say := func(commands string) []Message {
		return []Message{{"cmnd/" + topic + "/Backlog0", []byte(commands)}}
	}
	return Recipe{
		Name: "tasmota " + topic,
		On: func(lease time.Duration) []Message {
			return say(fmt.Sprintf("PulseTime%d %d; Power%d ON", relay, pulseTime(lease), relay))
		},
		Off:  func() []Message { return say(fmt.Sprintf("Power%d OFF", relay)) },
		Echo: []string{"stat/" + topic + "/" + power, "stat/" + topic + "/RESULT", "tele/" + topic + "/STATE"},
		Parse: func(t string, p []byte) (bool, bool) {
			if t == "stat/"+topic+"/"+power {
				return onOff(string(p))
			}
			return jsonOnOff(p, power, "POWER"+strconv.Itoa(relay))
		},
	}
}

// zigbee2mqtt sends the timed on of the Zigbee on/off cluster. Whether a
// repeat restarts the timer is up to the plug's firmware: try it first.
func zigbee2mqtt(topic string) Recipe {
	return Recipe{
		Name: "zigbee2mqtt " + topic,
		On: func(lease time.Duration) []Message {
			return []Message{{topic + "/set", fmt.Appendf(nil, `{"state":"ON","on_time":%d}`, seconds(lease))}}
		},
		Off:   func() []Message { return []Message{{topic + "/set", []byte(`{"state":"OFF"}`)}} },
		Echo:  []string{topic},
		Parse: func(_ string, p []byte) (bool, bool) { return jsonOnOff(p, "state") },
	}
}

// shelly calls Switch.Set and then asks for the status, whose answer is the
// echo: the answer to Switch.Set itself tells only what was before.
func shelly(prefix string, relay int) Recipe {
	const caller = "leavend-mat"
	call := func(method, params string) Message {
		return Message{prefix + "/rpc", fmt.Appendf(nil, `{"id":1,"src":%q,"method":%q,"params":{"id":%d%s}}`, caller, method, relay-1, params)}
	}
	ask := call("Switch.GetStatus", "")
	status := fmt.Sprintf("%s/status/switch:%d", prefix, relay-1)
	return Recipe{
		Name: "shelly " + prefix,
		On: func(lease time.Duration) []Message {
			return []Message{call("Switch.Set", fmt.Sprintf(`,"on":true,"toggle_after":%d`, seconds(lease))), ask}
		},
		Off:  func() []Message { return []Message{call("Switch.Set", `,"on":false`), ask} },
		Echo: []string{caller + "/rpc", status},
		Parse: func(t string, p []byte) (bool, bool) {
			if t == status {
				return shellyOutput(p, "", relay)
			}
			return shellyOutput(p, prefix, relay)
		},
	}
}

// shellyOutput reads the output of a status message, or of an answer whose
// source must then be our plug.
func shellyOutput(payload []byte, src string, relay int) (on, known bool) {
	var m struct {
		Src    string `json:"src"`
		ID     *int   `json:"id"`
		Output *bool  `json:"output"`
		Result struct {
			ID     *int  `json:"id"`
			Output *bool `json:"output"`
		} `json:"result"`
	}
	if json.Unmarshal(payload, &m) != nil {
		return false, false
	}
	id, out := m.ID, m.Output
	if src != "" {
		id, out = m.Result.ID, m.Result.Output
		if m.Src != src {
			return false, false
		}
	}
	if id == nil || out == nil || *id != relay-1 {
		return false, false
	}
	return *out, true
}

// esphome speaks to a device that runs the configuration in Firmware: a lease
// in seconds switches on or renews, a lease of 0 switches off.
func esphome(topic string) Recipe {
	say := func(s int) []Message {
		return []Message{{topic + "/lease", []byte(strconv.Itoa(s))}}
	}
	return Recipe{
		Name:  "esphome " + topic,
		On:    func(lease time.Duration) []Message { return say(seconds(lease)) },
		Off:   func() []Message { return say(0) },
		Echo:  []string{topic + "/state"},
		Parse: func(_ string, p []byte) (bool, bool) { return onOff(string(p)) },
	}
}

// Firmware is the piece of ESPHome configuration that keeps the lease. A
// plain switch would not do: it has no timer, and a repeated "on" triggers
// nothing. TOPIC and PIN are yours. It is written from ESPHome's
// documentation and was not tried on a device: try it before you rely on it.
const Firmware = `globals:
  - id: lease_ms
    type: int
switch:
  - platform: gpio
    id: mat
    pin: PIN
    restore_mode: ALWAYS_OFF
script:
  - id: let_go
    mode: restart
    then:
      - delay: !lambda "return id(lease_ms);"
      - switch.turn_off: mat
      - mqtt.publish: {topic: TOPIC/state, payload: "OFF"}
mqtt:
  on_message:
    - topic: TOPIC/lease
      then:
        - lambda: "id(lease_ms) = 1000 * atoi(x.c_str());"
        - if:
            condition:
              lambda: "return id(lease_ms) > 0;"
            then:
              - script.execute: let_go
              - switch.turn_on: mat
              - mqtt.publish: {topic: TOPIC/state, payload: "ON"}
            else:
              - script.stop: let_go
              - switch.turn_off: mat
              - mqtt.publish: {topic: TOPIC/state, payload: "OFF"}
`

// Custom describes a plug that has no recipe here. {seconds} in OnPayload
// stands for the lease; without it the plug could not let go by itself, and
// the recipe is refused.
type Custom struct {
	OnTopic, OnPayload   string
	OffTopic, OffPayload string
	EchoTopic            string
	EchoField            string // a JSON field; empty: the whole payload
	EchoOn, EchoOff      string // what it says; default ON and OFF
}

// Recipe makes a recipe of c.
func (c Custom) Recipe() (Recipe, error) {
	if !strings.Contains(c.OnPayload, "{seconds}") {
		return Recipe{}, errors.New("plug on_payload: it must hold {seconds}, the plug's own switch-off timer")
	}
	if c.EchoOn == "" {
		c.EchoOn = "ON"
	}
	if c.EchoOff == "" {
		c.EchoOff = "OFF"
	}
	if c.EchoOn == c.EchoOff {
		return Recipe{}, errors.New("plug echo: on and off must differ")
	}
	r := Recipe{
		Name: c.OnTopic,
		On: func(lease time.Duration) []Message {
			s := strings.ReplaceAll(c.OnPayload, "{seconds}", strconv.Itoa(seconds(lease)))
			return []Message{{c.OnTopic, []byte(s)}}
		},
		Off:   func() []Message { return []Message{{c.OffTopic, []byte(c.OffPayload)}} },
		Echo:  []string{c.EchoTopic},
		Parse: func(_ string, p []byte) (bool, bool) { return c.parse(p) },
	}
	return r, r.check()
}

// parse reads one echo.
func (c Custom) parse(p []byte) (on, known bool) {
	word := string(bytes.TrimSpace(p))
	if c.EchoField != "" {
		var ok bool
		if word, ok = field(p, c.EchoField); !ok {
			return false, false
		}
	}
	return word == c.EchoOn, word == c.EchoOn || word == c.EchoOff
}

// field returns a JSON object's field as text.
func field(payload []byte, name string) (string, bool) {
	var m map[string]any
	if json.Unmarshal(payload, &m) != nil {
		return "", false
	}
	switch v := m[name].(type) {
	case string:
		return v, true
	case bool:
		return strconv.FormatBool(v), true
	case float64:
		if v == math.Trunc(v) {
			return strconv.FormatInt(int64(v), 10), true
		}
	}
	return "", false
}

// onOff reads ON or OFF in any case.
func onOff(s string) (on, known bool) {
	switch strings.ToUpper(strings.TrimSpace(s)) {
	case "ON":
		return true, true
	case "OFF":
		return false, true
	}
	return false, false
}

// jsonOnOff reads the first of several fields that says ON or OFF.
func jsonOnOff(payload []byte, names ...string) (on, known bool) {
	for _, n := range names {
		if s, ok := field(payload, n); ok {
			if on, known = onOff(s); known {
				return on, known
			}
		}
	}
	return false, false
}
