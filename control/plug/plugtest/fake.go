// Package plugtest is a plug that exists only in tests: it understands the
// command syntax of the ready recipes, keeps a switch-off timer as real plugs
// do, loses messages, drops off the network, and reboots into its last state.
//
// Its syntax was written from the firmwares' documentation, not recorded from
// devices.
package plugtest

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Fake is a plug with its broker. The zero value is not ready: use New.
type Fake struct {
	now   func() time.Time
	kind  string
	name  string
	heard func(topic string, payload []byte, at time.Time)

	mu       sync.Mutex // guards everything below
	on       bool
	wasOn    bool      // by a command, at some time
	until    time.Time // when the timer switches off; zero: no timer runs
	pulse    time.Duration
	offline  bool // the client has no broker
	gone     bool // the plug is out of reach of the broker
	loseIn   int
	loseOut  int
	commands int
	hang     chan struct{}
}

// New makes a plug that is off. Kind is a recipe's name; now is the clock its
// timer goes by.
func New(kind, name string, now func() time.Time) *Fake {
	return &Fake{kind: kind, name: name, now: now}
}

// Tell sets who hears what the plug says.
func (f *Fake) Tell(heard func(topic string, payload []byte, at time.Time)) { f.heard = heard }

// IsOn reports whether the plug passes power now.
func (f *Fake) IsOn() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.lapse()
	return f.on
}

// WasOn reports whether a command ever switched the plug on.
func (f *Fake) WasOn() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.wasOn
}

// Commands returns how many messages reached the plug.
func (f *Fake) Commands() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.commands
}

// Offline cuts the daemon's client off the broker, or connects it again.
func (f *Fake) Offline(is bool) { f.set(func() { f.offline = is }) }

// Gone takes the plug out of the network, or back.
func (f *Fake) Gone(is bool) { f.set(func() { f.gone = is }) }

// LoseCommands lets the next n commands vanish on their way.
func (f *Fake) LoseCommands(n int) { f.set(func() { f.loseIn = n }) }

// LoseEchoes lets the next n answers vanish.
func (f *Fake) LoseEchoes(n int) { f.set(func() { f.loseOut = n }) }

// Hang makes Command block until the returned function is called.
func (f *Fake) Hang() (release func()) {
	c := make(chan struct{})
	f.set(func() { f.hang = c })
	return func() { f.set(func() { f.hang = nil }); close(c) }
}

// Reboot restarts the plug into the state it had, or off. The timer is lost
// with the power.
func (f *Fake) Reboot(intoLast bool) {
	f.set(func() {
		f.lapse()
		f.on = f.on && intoLast
		f.until = time.Time{}
	})
	f.say()
}

// Press is a finger on the plug's own button.
func (f *Fake) Press() {
	f.set(func() { f.lapse(); f.on = !f.on; f.until = time.Time{} })
	f.say()
}

// Connected reports whether the client has a broker.
func (f *Fake) Connected() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return !f.offline
}

// Command delivers a message to the plug, or loses it.
func (f *Fake) Command(topic, payload string) error {
	f.mu.Lock()
	hang := f.hang
	f.mu.Unlock()
	if hang != nil {
		<-hang
	}
	f.mu.Lock()
	if f.offline {
		f.mu.Unlock()
		return fmt.Errorf("publish %s: not connected", topic)
	}
	if f.gone || f.loseIn > 0 {
		f.loseIn--
		f.mu.Unlock()
		return nil // QoS 0: no error comes back
	}
	f.commands++
	f.lapse()
	answer := f.obey(topic, payload)
	f.mu.Unlock()
	if answer {
		f.say()
	}
	return nil
}

// set changes something under the lock.
func (f *Fake) set(change func()) {
	f.mu.Lock()
	change()
	f.mu.Unlock()
}

// lapse lets the timer switch off.
func (f *Fake) lapse() {
	if f.on && !f.until.IsZero() && !f.now().Before(f.until) {
		f.on, f.until = false, time.Time{}
	}
}

// turn switches, and starts or restarts the timer.
func (f *Fake) turn(on bool, timer time.Duration) {
	f.on, f.until = on, time.Time{}
	f.wasOn = f.wasOn || on
	if on && timer > 0 {
		f.until = f.now().Add(timer)
	}
}

// obey carries out a command and reports whether the plug answers it.
func (f *Fake) obey(topic, payload string) bool {
	switch {
	case f.kind == "tasmota" && topic == "cmnd/"+f.name+"/Backlog0":
		for c := range strings.SplitSeq(payload, ";") {
			f.tasmota(strings.Fields(c))
		}
	case f.kind == "zigbee2mqtt" && topic == f.name+"/set":
		var m struct {
			State  string `json:"state"`
			OnTime int    `json:"on_time"`
		}
		if json.Unmarshal([]byte(payload), &m) != nil {
			return false
		}
		f.turn(m.State == "ON", time.Duration(m.OnTime)*time.Second)
	case f.kind == "shelly" && topic == f.name+"/rpc":
		return f.shelly(payload)
	case f.kind == "esphome" && topic == f.name+"/lease":
		s, err := strconv.Atoi(payload)
		if err != nil {
			return false
		}
		f.turn(s > 0, time.Duration(s)*time.Second)
	default:
		return false
	}
	return true
}

// tasmota carries out one command of a backlog.
func (f *Fake) tasmota(words []string) {
	if len(words) != 2 {
		return
	}
	switch words[0] {
	case "PulseTime1":
		v, _ := strconv.Atoi(words[1])
		f.pulse = time.Duration(v) * 100 * time.Millisecond
		if v >= 112 {
			f.pulse = time.Duration(v-100) * time.Second
		}
	case "Power1":
		f.turn(words[1] == "ON", f.pulse)
	}
}

// shelly carries out one remote call; only the status answers with the state.
func (f *Fake) shelly(payload string) bool {
	var m struct {
		Method string `json:"method"`
		Params struct {
			ID     int  `json:"id"`
			On     bool `json:"on"`
			Toggle int  `json:"toggle_after"`
		} `json:"params"`
	}
	if json.Unmarshal([]byte(payload), &m) != nil || m.Params.ID != 0 {
		return false
	}
	if m.Method == "Switch.Set" {
		f.turn(m.Params.On, time.Duration(m.Params.Toggle)*time.Second)
		return false
	}
	return m.Method == "Switch.GetStatus"
}

// say tells the state, unless the message is lost.
func (f *Fake) say() {
	f.mu.Lock()
	f.lapse()
	on, lost := f.on, f.gone || f.offline || f.loseOut > 0
	if f.loseOut > 0 {
		f.loseOut--
	}
	f.mu.Unlock()
	if lost || f.heard == nil {
		return
	}
	word := map[bool]string{true: "ON", false: "OFF"}[on]
	switch f.kind {
	case "tasmota":
		f.heard("stat/"+f.name+"/RESULT", []byte(`{"POWER":"`+word+`"}`), f.now())
		f.heard("stat/"+f.name+"/POWER", []byte(word), f.now())
	case "zigbee2mqtt":
		f.heard(f.name, []byte(`{"state":"`+word+`","linkquality":80}`), f.now())
	case "shelly":
		f.heard("leavend-mat/rpc", fmt.Appendf(nil, `{"id":1,"src":%q,"dst":"leavend-mat","result":{"id":0,"source":"MQTT","output":%v}}`, f.name, on), f.now())
	case "esphome":
		f.heard(f.name+"/state", []byte(word), f.now())
	}
}
