package web

import (
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Mat is one heat mat at one moment.
type Mat struct {
	ID          string         `json:"id"`
	Name        string         `json:"name"`
	Allowed     bool           `json:"allowed"` // the baker lets it heat
	Accepted    bool           `json:"cautions_accepted"`
	Cautions    []string       `json:"cautions,omitempty"`     // shown before the first switch-on
	CautionsSay []text.Message `json:"cautions_say,omitempty"` // the same as messages, until they are accepted
	On          bool           `json:"on"`
	Since       time.Time      `json:"since,omitzero"`      // of the present on or off
	Reason      string         `json:"reason"`              // a sentence: why it is on or off
	ReasonSay   text.Message   `json:"reason_say,omitzero"` // the same as a message
	SetpointC   Real           `json:"setpoint_c"`          // what the baker set
	SteeringC   Real           `json:"steering_c"`          // what holds now, by schedule or plan; null: the setpoint
	LowC        Real           `json:"low_c"`               // limits of the setpoint
	HighC       Real           `json:"high_c"`              //
	HysteresisC Real           `json:"hysteresis_c"`        //
	CutoffC     Real           `json:"cutoff_c"`            // of the vessel
	MatCutoffC  Real           `json:"mat_cutoff_c"`        // of the mat's surface, or null
	Temp        *Measure       `json:"temp,omitempty"`      // what it steers by
	MatTemp     *Measure       `json:"mat_temp,omitempty"`
	RoomTemp    *Measure       `json:"room_temp,omitempty"`
	OnShareDay  Real           `json:"on_share_day"` // 0 to 1 of the last 24 hours, or null
	Energy      []Energy       `json:"energy"`       // drawn; empty where the watts are not known
	Switches    int            `json:"switches"`     // how often it was switched on altogether
	SwitchLife  int            `json:"switch_life"`  // how often its switch commonly can; 0: for ever
	SwitchWorn  bool           `json:"switch_worn"`  // it comes near to that
	Steps       []Step         `json:"schedule"`
	StepsFixed  bool           `json:"schedule_fixed,omitempty"` // the page may show the schedule and not change it
	StepsOwn    bool           `json:"schedule_own,omitempty"`   // it was set here; else it is that of the config
	Faults      []Fault        `json:"faults"`
}

// Energy is about what a mat has drawn in a time: in the "day", the last 24 hours
// or since it is counted; in the last "night", or this one so far; or since the
// "feed" of the vessel on it.
type Energy struct {
	Of   string    `json:"of"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	KWh  Real      `json:"kwh"`
}

// Step is one line of a day's schedule: from this clock time on, this
// setpoint.
type Step struct {
	From      string `json:"from"` // HH:MM of the kitchen's clock
	SetpointC Real   `json:"setpoint_c"`
}

// Fault keeps a mat off, latched until the baker acknowledges it.
type Fault struct {
	ID      string       `json:"id"`
	Kind    string       `json:"kind"` // cutoff, stale, no-gain, stuck, write ...
	Text    string       `json:"text"` // what happened, as a sentence
	Do      string       `json:"do,omitempty"`
	Since   time.Time    `json:"since"`
	Holds   bool         `json:"holds"`            // the cause is still there: it cannot be acknowledged
	Why     string       `json:"why,omitempty"`    // why it still holds
	WhySay  text.Message `json:"why_say,omitzero"` // the same as a message
	TextSay text.Message `json:"text_say,omitzero"`
	DoSay   text.Message `json:"do_say,omitzero"`
}
