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
	ExpectedAt   time.Time // when the peak, or the target, is expected
	CalledAt     time.Time // when it was, once it has come
	BestUntil    time.Time // until when it is at its best
	FeedDueAt    time.Time // when the next feed is due
	Alarm        string    // what is wrong, as sentences; empty where nothing is
	ReadyAt      time.Time // the hour that was wished for it
	ReadyTime    string    // the same on the kitchen's clock, such as 20:00
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
	Latched      bool     // the cutoff has tripped and waits for a person
	ReasonCode   string   // why it is on or off, one of Opts.MatReasons
	Alarm        string   // what is wrong, as sentences; empty where nothing is
	EnergyKWh    *float64 // since the meter began; nil where the mat's power is not known
	Switches     *float64 // how often its switch has switched on
}

// Daemon is the state of the daemon itself as it goes out.
type Daemon struct {
	At       time.Time // the time the state speaks of
	NextStep string    // of the chosen plan, as a sentence; empty where there is none
	NextAt   time.Time // when it is best done
	LoafAt   time.Time // when the bread is ready
	Alarm    string    // what is wrong with storage, settings or connections; empty where nothing is
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
		ExpectedAt   *time.Time `json:"expected_at"`
		CalledAt     *time.Time `json:"called_at"`
		BestUntil    *time.Time `json:"best_until"`
		FeedDueAt    *time.Time `json:"feed_due_at"`
		Problem      string     `json:"problem"`
		Alarm        *string    `json:"alarm"`
		ReadyAt      *time.Time `json:"ready_at"`
		ReadyTime    *string    `json:"ready_time"`
		Ready        string     `json:"ready,omitempty"`
	}{
		stamp(v.At), v.Stage, round(v.HeightMM, 1), round(v.RiseMM, 1), round(v.RiseRatio, 3),
		round(v.TemperatureC, 2), stamp(v.FedAt), stamp(v.PeakAt), stamp(v.PeakLow), stamp(v.PeakHigh),
		stamp(v.ExpectedAt), stamp(v.CalledAt), stamp(v.BestUntil), stamp(v.FeedDueAt), onOff(v.Alarm != ""), nullIfEmpty(v.Alarm),
		stamp(v.ReadyAt), nullIfEmpty(v.ReadyTime), v.Ready,
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
		ReasonCode   *string    `json:"reason_code"`
		Problem      string     `json:"problem"`
		Alarm        *string    `json:"alarm"`
		EnergyKWh    *float64   `json:"energy_kwh"`
		Switches     *float64   `json:"switches"`
	}{
		stamp(m.At), onOff(m.On), m.Mode, m.action(), m.Reason, round(m.SetpointC, 2),
		round(m.TemperatureC, 2), round(m.MatC, 2), round(m.CutoffC, 2), onOff(m.Latched),
		nullIfEmpty(m.ReasonCode), onOff(m.Alarm != ""), nullIfEmpty(m.Alarm), round(m.EnergyKWh, 4), round(m.Switches, 0),
	})
}

// Payload is the message as it goes out.
func (d Daemon) Payload() []byte {
	return encode(struct {
		TS       *time.Time `json:"ts"`
		NextStep *string    `json:"next_step"`
		NextAt   *time.Time `json:"next_at"`
		LoafAt   *time.Time `json:"loaf_at"`
		Problem  string     `json:"problem"`
		Alarm    *string    `json:"alarm"`
	}{stamp(d.At), nullIfEmpty(d.NextStep), stamp(d.NextAt), stamp(d.LoafAt), onOff(d.Alarm != ""), nullIfEmpty(d.Alarm)})
}

// nullIfEmpty is a text, or null where there is none.
func nullIfEmpty(text string) *string {
	if text == "" {
		return nil
	}
	return &text
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
