package event

import (
	"encoding/json"
	"math"
	"time"

	"leavend/peak"
)

// wire is an event as the log keeps it. What is not known is left out, since
// JSON has no word for a number that is none.
type wire struct {
	Kind      Kind       `json:"kind"`
	Subject   string     `json:"subject"`
	At        time.Time  `json:"at"`
	Text      string     `json:"text,omitempty"`
	Detail    string     `json:"detail,omitempty"`
	Reason    Reason     `json:"reason,omitempty"`
	Part      string     `json:"part,omitempty"`
	Past      bool       `json:"past,omitempty"`
	FeedAt    time.Time  `json:"feed_at,omitzero"`
	PeakAt    time.Time  `json:"peak_at,omitzero"`
	Low       time.Time  `json:"low,omitzero"`
	High      time.Time  `json:"high,omitzero"`
	RiseRatio *float64   `json:"rise_ratio,omitempty"`
	RiseMM    *float64   `json:"rise_mm,omitempty"`
	HeightMM  *float64   `json:"height_mm,omitempty"`
	Source    string     `json:"source,omitempty"`
	Fault     peak.Fault `json:"fault,omitzero"`
}

// MarshalJSON writes the event for the log.
func (e Event) MarshalJSON() ([]byte, error) {
	d := e.Detected
	return json.Marshal(wire{
		Kind: e.Kind, Subject: e.Subject, At: e.At, Text: e.Text, Detail: e.Detail, Reason: e.Alarm.Reason, Part: e.Alarm.Part, Past: e.Past,
		FeedAt: d.FeedAt, PeakAt: d.PeakAt, Low: d.Low, High: d.High,
		RiseRatio: finite(d.RiseRatio), RiseMM: finite(d.RiseMM), HeightMM: finite(d.HeightMM), Source: d.Source, Fault: d.Fault,
	})
}

// UnmarshalJSON reads what MarshalJSON wrote; a number that was not known is
// NaN.
func (e *Event) UnmarshalJSON(text []byte) error {
	var w wire
	if err := json.Unmarshal(text, &w); err != nil {
		return err
	}
	*e = Event{Kind: w.Kind, Subject: w.Subject, At: w.At, Text: w.Text, Detail: w.Detail, Past: w.Past}
	if w.Reason != "" {
		e.Alarm = AlarmKey{Subject: w.Subject, Reason: w.Reason, Part: w.Part}
	}
	e.Detected = peak.Event{
		At: w.At, FeedAt: w.FeedAt, PeakAt: w.PeakAt, Low: w.Low, High: w.High,
		RiseRatio: number(w.RiseRatio), RiseMM: number(w.RiseMM), HeightMM: number(w.HeightMM), Source: w.Source, Fault: w.Fault,
	}
	return nil
}

// finite returns a pointer to v, or nil when v is no number.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func number(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}
