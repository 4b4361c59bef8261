package config

import "time"

// OutputKind is what switches the mat.
type OutputKind string

// The ways to switch a mat.
const (
	NoOutput OutputKind = "none"    // there is no mat
	GPIO     OutputKind = "gpio"    // a line of this board, active high
	Plug     OutputKind = "plug"    // a plug that listens to MQTT
	Toy      OutputKind = "kitchen" // the mat of the simulated kitchen
)

// Recipe names the command syntax of a plug's firmware.
type Recipe string

// The recipes for plugs.
const (
	Tasmota     Recipe = "tasmota"
	Shelly      Recipe = "shelly"
	Zigbee2MQTT Recipe = "zigbee2mqtt"
	ESPHome     Recipe = "esphome"
	Custom      Recipe = "custom"
)

// Mat is the heat mat, what switches it, and the limits it is held to.
type Mat struct {
	Output OutputKind
	Line   Line // of output gpio
	Plug   PlugOutput

	Vessel      string // the vessel on the mat; "" if there is none
	Probe       string // sensor it is steered by; by default the vessel's
	SecondProbe string // a second one beside it, to check the first; "" is none
	MatProbe    string // on the mat's surface; "" is none
	RoomProbe   string // in the room; "" is none
	Watts       float64
	LoadKg      float64 // lightest load, with its vessel's contents only; 0: not given
	SwitchLife  int     // how often its switch may switch on before it wears out; 0 is for ever

	SetpointC    float64
	SetpointMinC float64 // no one may set less
	SetpointMaxC float64 // nor more
	HysteresisC  float64 // half the band around the setpoint
	Schedule     []Slot

	CutoffVesselC   float64       // at or above it: off, and latched
	CutoffMatC      float64       // the same on the mat's surface
	DisagreeC       float64       // two probes further apart than this: off
	MinOff          time.Duration // least time between off and on
	MaxOn           time.Duration // longest continuous on
	Rest            time.Duration // pause after MaxOn
	MaxDuty         float64       // greatest share of 24 h that it may be on, 0 to 1
	SwitchesPerHour int           // most on-switches in an hour
	StaleAfter      time.Duration // without a good reading for this long: off
	Lease           time.Duration // how long an on lasts that is not renewed
	StartReadings   int           // good readings before the first on
	GainWithin      time.Duration // on-time without an answer of the probe, after which the heat pauses for a look
	Anticipate      bool          // switch early by what was learnt of the mat; false is plain hysteresis
}

// Heats reports whether there is a mat to switch.
func (m Mat) Heats() bool { return m.Output != NoOutput }

// PlugOutput is a plug that is switched by MQTT.
type PlugOutput struct {
	Recipe       Recipe
	Topic        string        // the plug's own part of its topics
	Relay        int           // of a plug with several, counted from 1
	EchoDeadline time.Duration // within which the plug must confirm a command
	User         string        // its own login at the broker inside leavend; "" is none
	Password     Secret

	// Of the custom recipe only. {seconds} in On stands for the lease.
	CommandTopic, On, Off         string
	StateTopic, StateField        string
	StateOn, StateOff             string
	TimerTopic, Timer             string // sent before On where the plug sets its own timer apart
	AvailableTopic, AvailableText string
}

// Stage is a part of a feed's course that a schedule may speak of.
type Stage string

// The stages of a feed.
const (
	Rising   Stage = "rising"    // from the feed to the peak or the target
	AtTop    Stage = "at-top"    // a jar at its peak
	AtTarget Stage = "at-target" // a bowl that has reached its target rise
	Falling  Stage = "falling"   // after the peak
)

// Slot is one entry of the mat's schedule. The first that fits the time and
// the stage holds; where none fits, Mat.SetpointC does.
type Slot struct {
	From      ClockTime `json:"from"` // From and To both zero is the whole day; To before From goes past midnight
	To        ClockTime `json:"to"`
	Days      []Day     `json:"days,omitempty"`  // on which From falls; empty is every day
	Stage     Stage     `json:"stage,omitempty"` // "" is any
	SetpointC float64   `json:"setpoint_c"`
	Rest      bool      `json:"rest,omitempty"` // the mat stays off; SetpointC means nothing
}

// Day is a day of the week as three letters, "mon" to "sun".
type Day string

// Days returns the days of the week, from Monday.
func Days() []Day { return []Day{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} }

// Weekday returns the day as the standard library counts it.
func (d Day) Weekday() time.Weekday {
	for i, day := range Days() {
		if d == day {
			return time.Weekday((i + 1) % 7)
		}
	}
	return time.Sunday
}
