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
	Payload string
}

// Recipe is how one kind of plug is spoken to. On must carry or renew the
// plug's own switch-off timer.
type Recipe struct {
	Name  string // for people
	On    func(lease time.Duration) []Message
	Off   func() []Message
	Echo  []string                                            // topics on which the plug says what it does
	Parse func(topic string, payload []byte) (on, known bool) // reads one message from Echo

	// AliveTopic is where the plug, or the broker as its last will, says
	// whether it is there; AliveText is what it says then. Both may be empty.
	AliveTopic, AliveText string

	// Obeys are filters for all topics that could switch or set up the plug, and
	// Says for those on which it tells of itself: a broker that knows them lets
	// no other client command it or speak for it. Groups are filters by which it may
	// be told together with others, where the broker does not know what it
	// listens to. A Bridge listens for other devices too.
	Obeys, Says, Groups []string
	Bridge              bool
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

func (r Recipe) topics() []string {
	t := append([]string(nil), r.Echo...)
	if r.AliveTopic != "" {
		t = append(t, r.AliveTopic)
	}
	return t
}

// checkTopic applies what MQTT 3.1.1 section 4.7 asks of a topic name.
func checkTopic(t string) error {
	if t == "" || strings.HasPrefix(t, "/") || len(t) > 200 || strings.ContainsAny(t, "+#\x00") {
		return fmt.Errorf("%q is no topic name; it must not be empty, begin with / or hold + or #", t)
	}
	return nil
}

// ByName returns a ready recipe for the device as its firmware knows it. The
// relay counts from 1 and matters only to plugs that have several.
//
//	tasmota      the Topic set in the plug; sets PulseTime with every on
//	zigbee2mqtt  base topic, slash, friendly name; sends on_time with every on
//	shelly       the MQTT prefix of a second-generation device; toggle_after
//	esphome      a topic of your choice; the device needs the configuration
//	             in esphome.yaml, which keeps the timer
func ByName(name, device string, relay int) (Recipe, error) {
	if err := checkTopic(device); err != nil {
		return Recipe{}, fmt.Errorf("plug device: %w", err)
	}
	if relay < 1 || relay > 32 {
		return Recipe{}, fmt.Errorf("plug relay: %d is outside 1 to 32", relay)
	}
	switch name {
	case "tasmota":
		return tasmota(device, relay), nil
	case "zigbee2mqtt":
		return zigbee2mqtt(device), nil
	case "shelly":
		return shelly(device, relay-1), nil
	case "esphome":
		return esphome(device), nil
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
	return min(max(int(lease/(100*time.Millisecond)), 1), 111) // 112 would be twelve seconds
}

// tasmota sets the timer and switches in one Backlog0, which runs its
// commands in order and without pauses, so that no on is without its timer.
func tasmota(topic string, relay int) Recipe {
	power := "POWER"
	if relay > 1 {
		power += strconv.Itoa(relay)
	}
	say := func(commands string) []Message {
		return []Message{{"cmnd/" + topic + "/Backlog0", commands}}
	}
	return Recipe{
		Name: "tasmota " + topic,
		On: func(lease time.Duration) []Message {
			return say(fmt.Sprintf("PulseTime%d %d; Power%d ON", relay, pulseTime(lease), relay))
		},
		Off:        func() []Message { return say(fmt.Sprintf("Power%d OFF", relay)) },
		AliveTopic: "tele/" + topic + "/LWT", AliveText: "Online",
		Echo: []string{"stat/" + topic + "/" + power, "stat/" + topic + "/RESULT", "tele/" + topic + "/STATE"},
		Parse: func(t string, p []byte) (bool, bool) {
			if t == "stat/"+topic+"/"+power {
				return onOff(string(p))
			}
			return jsonOnOff(p, power, "POWER"+strconv.Itoa(relay))
		},
		// Besides its own topic it listens to that of its group, "tasmotas" by
		// default, and to one made of its address (Tasmota, MQTT, "command flow").
		Obeys: []string{"cmnd/" + topic + "/#", "cmnd/tasmotas/#"}, Groups: []string{"cmnd/#"},
		Says: []string{"stat/" + topic + "/#", "tele/" + topic + "/#"},
	}
}

// zigbee2mqtt sends the timed on of the Zigbee on/off cluster. Whether a
// repeat restarts the timer is up to the plug's firmware: try it first.
func zigbee2mqtt(topic string) Recipe {
	base, _, _ := strings.Cut(topic, "/")
	return Recipe{
		Name: "zigbee2mqtt " + topic,
		On: func(lease time.Duration) []Message {
			return []Message{{topic + "/set", fmt.Sprintf(`{"state":"ON","on_time":%d}`, seconds(lease))}}
		},
		Off:   func() []Message { return []Message{{topic + "/set", `{"state":"OFF"}`}} },
		Echo:  []string{topic},
		Parse: func(_ string, p []byte) (bool, bool) { return jsonOnOff(p, "state") },
		// The bridge's own requests rename and regroup devices.
		Obeys:  []string{topic + "/set/#", topic + "/get/#", topic + "/+/set/#", base + "/bridge/request/#"},
		Says:   []string{topic, topic + "/availability", base + "/bridge/response/#"},
		Bridge: true,
	}
}

// shelly calls Switch.Set and then asks for the status, whose answer is the
// echo: the answer to Switch.Set itself tells only what was before.
func shelly(prefix string, channel int) Recipe {
	const caller = "leavend-mat"
	call := func(method, params string) Message {
		return Message{prefix + "/rpc", fmt.Sprintf(`{"id":1,"src":%q,"method":%q,"params":{"id":%d%s}}`, caller, method, channel, params)}
	}
	ask := call("Switch.GetStatus", "")
	status := fmt.Sprintf("%s/status/switch:%d", prefix, channel)
	return Recipe{
		Name: "shelly " + prefix,
		On: func(lease time.Duration) []Message {
			return []Message{call("Switch.Set", fmt.Sprintf(`,"on":true,"toggle_after":%d`, seconds(lease))), ask}
		},
		Off:  func() []Message { return []Message{call("Switch.Set", `,"on":false`), ask} },
		Echo: []string{caller + "/rpc", status},
		Parse: func(t string, p []byte) (bool, bool) {
			if t == status {
				return shellyOutput(p, "", channel)
			}
			return shellyOutput(p, prefix, channel)
		},
		Obeys: []string{prefix + "/rpc/#", prefix + "/command/#"},
		Says:  []string{caller + "/rpc", prefix + "/status/#", prefix + "/events/#", prefix + "/online"},
	}
}

// shellyOutput reads the output of a status message, or of an answer whose
// source must then be our plug.
func shellyOutput(payload []byte, src string, channel int) (on, known bool) {
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
	if id == nil || out == nil || *id != channel {
		return false, false
	}
	return *out, true
}

// esphome speaks to a device that runs the configuration in esphome.yaml: a lease
// in seconds switches on or renews, a lease of 0 switches off.
func esphome(topic string) Recipe {
	say := func(s int) []Message {
		return []Message{{topic + "/lease", strconv.Itoa(s)}}
	}
	return Recipe{
		Name:  "esphome " + topic,
		On:    func(lease time.Duration) []Message { return say(seconds(lease)) },
		Off:   func() []Message { return say(0) },
		Echo:  []string{topic + "/state"},
		Parse: func(_ string, p []byte) (bool, bool) { return onOff(string(p)) },
		Obeys: []string{topic + "/lease/#", topic + "/+/+/command/#"},
		Says:  []string{topic + "/state", topic + "/status", topic + "/+/+/state"},
	}
}

// Custom describes a plug that has no recipe here. {seconds} in On or Timer
// stands for the lease; without it the plug could not let go by itself, and
// the recipe is refused.
type Custom struct {
	CommandTopic, On, Off string
	TimerTopic, Timer     string // sent before On, where the timer is set apart
	StateTopic            string
	StateField            string // a JSON field; empty: the whole payload
	StateOn, StateOff     string // what it says
	AliveTopic, AliveText string // see Recipe
}

// Recipe makes a recipe of c.
func (c Custom) Recipe() (Recipe, error) {
	if !strings.Contains(c.On, "{seconds}") && (c.TimerTopic == "" || !strings.Contains(c.Timer, "{seconds}")) {
		return Recipe{}, errors.New("plug on: on or timer must hold {seconds}, the plug's own off timer")
	}
	if c.StateOn == c.StateOff {
		return Recipe{}, errors.New("plug state_on: it must differ from state_off")
	}
	r := Recipe{
		Name:       c.CommandTopic,
		On:         c.on,
		Off:        func() []Message { return []Message{{c.CommandTopic, c.Off}} },
		Echo:       []string{c.StateTopic},
		Parse:      func(_ string, p []byte) (bool, bool) { return c.parse(p) },
		AliveTopic: c.AliveTopic, AliveText: c.AliveText,
	}
	for _, t := range []string{c.CommandTopic, c.TimerTopic} {
		if t != "" {
			r.Obeys = append(r.Obeys, t+"/#")
		}
	}
	r.Says = r.topics()
	return r, r.check()
}

// on is the timer, where it is set apart, and then the command.
func (c Custom) on(lease time.Duration) []Message {
	fill := func(s string) string { return strings.ReplaceAll(s, "{seconds}", strconv.Itoa(seconds(lease))) }
	m := []Message{{c.CommandTopic, fill(c.On)}}
	if c.TimerTopic != "" {
		m = append([]Message{{c.TimerTopic, fill(c.Timer)}}, m...)
	}
	return m
}

// parse reads one echo.
func (c Custom) parse(p []byte) (on, known bool) {
	word := string(bytes.TrimSpace(p))
	if c.StateField != "" {
		var ok bool
		if word, ok = field(p, c.StateField); !ok {
			return false, false
		}
	}
	return word == c.StateOn, word == c.StateOn || word == c.StateOff
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
