package mqtt

import (
	"encoding/json"
	"math"
	"time"
)

// Vessel is the state message of one jar or bowl, see [VesselOf]. What is not
// known is null.
type Vessel struct {
	ID        string `json:"-"` // as in Opts.Vessels
	Available bool   `json:"-"` // the vessel's sensors answer; a message of its own

	At           Time     `json:"ts"`
	Stage        string   `json:"stage"`         // one of Opts.Stages
	HeightMM     *float64 `json:"height_mm"`     // surface above the vessel's floor
	RiseMM       *float64 `json:"rise_mm"`       // height above the height at the feed
	RiseRatio    *float64 `json:"rise_ratio"`    // height over the height at the feed; 2 is doubled
	TemperatureC *float64 `json:"temperature_c"` // of the vessel
	FedAt        Time     `json:"fed_at"`        // the last feed
	PeakAt       Time     `json:"peak_at"`       // when the peak, or a dough's target, is expected or was
	PeakLow      Time     `json:"peak_low"`      // the 80 % interval of PeakAt while it is a forecast
	PeakHigh     Time     `json:"peak_high"`
	ExpectedAt   Time     `json:"expected_at"` // when the peak, or the target, is expected
	CalledAt     Time     `json:"called_at"`   // when it was, once it has come
	BestUntil    Time     `json:"best_until"`  // until when it is at its best
	FeedDueAt    Time     `json:"feed_due_at"` // when the next feed is due
	Problem
	ReadyAt   Time   `json:"ready_at"`        // when it shall be ready
	ReadyTime Text   `json:"ready_time"`      // the same on the kitchen's clock, such as 20:00
	Ready     string `json:"ready,omitempty"` // whether it will be, as a sentence
}

// Mat is the state message of one heat mat, see [MatOf].
type Mat struct {
	ID string `json:"-"` // as in Opts.Mats

	At           Time     `json:"ts"`
	On           OnOff    `json:"on"`     // heat is asked for now
	Mode         string   `json:"mode"`   // heat or off, as asked
	Action       string   `json:"action"` // heating, idle or off: what it does
	Reason       string   `json:"reason"` // why it is on or off, as a sentence
	SetpointC    *float64 `json:"setpoint_c"`
	TemperatureC *float64 `json:"temperature_c"` // what the thermostat controls
	MatC         *float64 `json:"mat_c"`         // of the mat itself, where it has a probe
	CutoffC      *float64 `json:"cutoff_c"`
	Latched      OnOff    `json:"latched"`     // the cutoff has tripped and waits for a person
	ReasonCode   Text     `json:"reason_code"` // one of Opts.MatReasons
	Problem
	EnergyKWh *float64 `json:"energy_kwh"` // since the meter began; null where the mat's power is not known
	Switches  *float64 `json:"switches"`   // how often its switch has switched on
}

// Daemon is the state message of the daemon itself.
type Daemon struct {
	At       Time `json:"ts"`
	NextStep Text `json:"next_step"` // of the chosen plan, as a sentence
	NextAt   Time `json:"next_at"`   // when it is best done
	LoafAt   Time `json:"loaf_at"`   // when the bread is ready
	Problem
}

// Problem says whether something is wrong with a vessel, the mat or the daemon,
// and what.
type Problem struct {
	Is    OnOff `json:"problem"`
	Alarm Text  `json:"alarm"` // as sentences
}

// ProblemOf is the problem that an alarm's sentences tell of; none where there are
// none.
func ProblemOf(alarm string) Problem { return Problem{OnOff(alarm != ""), Text(alarm)} }

// The modes of a mat.
const (
	ModeHeat = "heat"
	ModeOff  = "off"
)

// Time is a time as it goes out: in UTC and whole seconds, null where it is not
// known or outside the years that RFC 3339 can write.
type Time struct{ time.Time }

// MarshalJSON writes the time.
func (t Time) MarshalJSON() ([]byte, error) {
	if utc := t.UTC(); !t.IsZero() && utc.Year() >= 1 && utc.Year() <= 9999 {
		return json.Marshal(utc.Truncate(time.Second))
	}
	return []byte("null"), nil
}

// Text goes out as a string, or as null where there is none.
type Text string

// MarshalJSON writes the text.
func (t Text) MarshalJSON() ([]byte, error) {
	if t == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(t))
}

// OnOff goes out as the words that a home hub's switches take.
type OnOff bool

// MarshalJSON writes on or off.
func (o OnOff) MarshalJSON() ([]byte, error) {
	if o {
		return []byte(`"on"`), nil
	}
	return []byte(`"off"`), nil
}

// encode never fails: the messages hold no value that JSON cannot say, for round
// has taken out NaN and the infinities.
func encode(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		return []byte(`{}`)
	}
	return b
}

// round cuts a number to the places that mean something; nil if it is no number.
func round(v float64, places int) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	p := math.Pow10(places)
	return new(math.Round(v*p) / p)
}

func upDown(up bool) []byte {
	if up {
		return []byte("online")
	}
	return []byte("offline")
}
