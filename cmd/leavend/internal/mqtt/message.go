package mqtt

import (
	"encoding/json"
	"math"
	"time"
)

// Vessel is the state of one jar or bowl as it goes out. A nil pointer and a
// zero time are values that are not known.
type Vessel struct {
	ID           string    // as in Opts.Vessels
	At           time.Time // the time the state speaks of
	Stage        string    // one of Opts.Stages
	HeightMM     *float64  // surface above the vessel's floor
	RiseMM       *float64  // height above the height at the feed
	RiseRatio    *float64  // height over the height at the feed; 2 is doubled
	TemperatureC *float64  // of the vessel
	FedAt        time.Time // the last feed
	PeakAt       time.Time // when the peak, or a dough's target, is expected or was
	PeakLow      time.Time // the 80 % interval of PeakAt while it is a forecast
	PeakHigh     time.Time
	ReadyAt      time.Time // the hour that was wished for it
	Ready        string    // how that wish stands, as a sentence
	Available    bool      // the vessel's sensors answer
}

// Mat is the state of one heat mat as it goes out.
type Mat struct {
	ID           string    // as in Opts.Mats
	At           time.Time // the time the state speaks of
	On           bool      // heat is asked for now
	Mode         string    // heat or off, as wished
	Reason       string    // why it is on or off, in the thermostat's words
	SetpointC    *float64
	TemperatureC *float64 // what the thermostat steers by
	MatC         *float64 // of the mat itself, where it has a probe
	CutoffC      *float64
	Latched      bool // the cutoff has tripped and waits for a person
}

// The modes of a mat.
const (
	ModeHeat = "heat"
	ModeOff  = "off"
)

// The kinds of event. They are the words of the replay contract, and two of
// the daemon's own: cleared ends a fault, refused answers a wish.
const (
	EventFed      = "fed"
	EventPeak     = "peak"
	EventTarget   = "target"
	EventOver     = "over"
	EventPast     = "past"
	EventFalling  = "falling"
	EventCollapse = "collapse"
	EventFolded   = "folded"
	EventFault    = "fault"
	EventCleared  = "cleared"
	EventRefused  = "refused"
)

// Event is something that happened once.
type Event struct {
	ID        string    // tells a repeat from a second event; made from the rest if empty
	At        time.Time // when it happened, or was called
	Subject   string    // the id of the vessel or mat
	Kind      string    // one of the kinds above
	Text      string    // for a person
	PeakAt    time.Time // for a peak: the back-dated time of the top
	HeightMM  *float64
	RiseRatio *float64
}

// Payload is the message as it goes out.
func (v Vessel) Payload() []byte {
	return encode(struct {
		TS           *time.Time `json:"ts"`
		Stage        string     `json:"stage"`
		HeightMM     *float64   `json:"height_mm"`
		RiseMM       *float64   `json:"rise_mm"`
		RiseRatio    *float64   `json:"rise_ratio"`
		TemperatureC *float64   `json:"temperature_c"`
		FedAt        *time.Time `json:"fed_at"`
		PeakAt       *time.Time `json:"peak_at"`
		PeakLow      *time.Time `json:"peak_low"`
		PeakHigh     *time.Time `json:"peak_high"`
		ReadyAt      *time.Time `json:"ready_at"`
		Ready        string     `json:"ready,omitempty"`
	}{
		stamp(v.At), v.Stage, round(v.HeightMM, 1), round(v.RiseMM, 1), round(v.RiseRatio, 3),
		round(v.TemperatureC, 2), stamp(v.FedAt), stamp(v.PeakAt), stamp(v.PeakLow), stamp(v.PeakHigh),
		stamp(v.ReadyAt), v.Ready,
	})
}

// Payload is the message as it goes out.
func (m Mat) Payload() []byte {
	return encode(struct {
		TS           *time.Time `json:"ts"`
		On           string     `json:"on"`
		Mode         string     `json:"mode"`
		Action       string     `json:"action"`
		Reason       string     `json:"reason"`
		SetpointC    *float64   `json:"setpoint_c"`
		TemperatureC *float64   `json:"temperature_c"`
		MatC         *float64   `json:"mat_c"`
		CutoffC      *float64   `json:"cutoff_c"`
		Latched      string     `json:"latched"`
	}{
		stamp(m.At), onOff(m.On), m.Mode, m.action(), m.Reason, round(m.SetpointC, 2),
		round(m.TemperatureC, 2), round(m.MatC, 2), round(m.CutoffC, 2), onOff(m.Latched),
	})
}

// action says what the mat does now, in the words that thermostats use.
func (m Mat) action() string {
	switch {
	case m.On:
		return "heating"
	case m.Mode == ModeHeat:
		return "idle"
	}
	return "off"
}

// Payload is the message as it goes out.
func (e Event) Payload() []byte {
	return encode(struct {
		Kind      string     `json:"event_type"`
		TS        *time.Time `json:"ts"`
		ID        string     `json:"id"`
		Text      string     `json:"text"`
		PeakAt    *time.Time `json:"peak_at"`
		HeightMM  *float64   `json:"height_mm"`
		RiseRatio *float64   `json:"rise_ratio"`
	}{e.Kind, stamp(e.At), e.ID, e.Text, stamp(e.PeakAt), round(e.HeightMM, 1), round(e.RiseRatio, 3)})
}

// encode never fails: the structs it is given hold no value that JSON cannot
// say, for round has taken out NaN and the infinities.
func encode(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		return []byte(`{}`)
	}
	return b
}

// stamp makes a time fit for JSON, in UTC and whole seconds; nil if unknown or
// outside the years that RFC 3339 can write.
func stamp(t time.Time) *time.Time {
	if t.IsZero() || t.UTC().Year() < 1 || t.UTC().Year() > 9999 {
		return nil
	}
	return new(t.UTC().Truncate(time.Second))
}

// round cuts a number to the places that mean something; nil if it is no number.
func round(v *float64, places int) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	p := math.Pow10(places)
	return new(math.Round(*v*p) / p)
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

func upDown(up bool) []byte {
	if up {
		return []byte("online")
	}
	return []byte("offline")
}
