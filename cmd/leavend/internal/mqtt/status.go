package mqtt

import (
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
)

// VesselOf is a vessel's status as it goes out. A value whose reading is no
// longer fresh is left out: a hub would show it as if it were of now.
func VesselOf(s monitor.Status) Vessel {
	out := Vessel{
		ID: s.ID, At: timeOf(s.ReadAt), Stage: string(s.Stage), Available: s.Available, BestUntil: timeOf(s.BestUntil),
		HeightMM: fresh(s.Height, 1), RiseMM: fresh(s.Rise, 1), RiseRatio: fresh(s.Ratio, 3), TemperatureC: fresh(s.Temp, 2),
	}
	if s.Feed != nil {
		out.FedAt, out.FeedDueAt = Time{s.Feed.At}, timeOf(s.Feed.DueAt)
	}
	if s.Call != nil {
		out.CalledAt, out.PeakAt = Time{s.Call.At}, Time{s.Call.At}
	}
	if f := s.Forecast; f != nil {
		out.ExpectedAt, out.PeakAt, out.PeakLow, out.PeakHigh = Time{f.At}, Time{f.At}, Time{f.Low}, Time{f.High}
	}
	return out
}

// MatOf is a mat as it goes out. energyJ is what it has used, nil where its power
// is not known.
func MatOf(now time.Time, s control.State, conf *config.Config, energyJ *float64) Mat {
	m := Mat{
		ID: event.SubjectMat, At: Time{now}, On: OnOff(s.On), Mode: ModeOff, Action: "off", Reason: heating.Why(s).In(conf.Reader()),
		SetpointC: round(s.SetpointC, 2), CutoffC: round(conf.Mat.CutoffVesselC, 2),
		ReasonCode: Text(s.Reason), Switches: new(float64(s.OnSwitches)),
	}
	if s.VesselOK {
		m.TemperatureC = round(s.VesselC, 2)
	}
	if s.MatOK {
		m.MatC = round(s.MatC, 2)
	}
	if energyJ != nil {
		m.EnergyKWh = round(*energyJ/joulesInKWh, 4)
	}
	if s.Mode == control.Hold {
		m.Mode, m.Action = ModeHeat, "idle"
	}
	if s.On {
		m.Action = "heating" // what is, not what should be
	}
	for _, f := range s.Faults {
		m.Latched = m.Latched || OnOff(f.Latched)
	}
	return m
}

// joulesInKWh is what the unit of energy bills holds.
const joulesInKWh = 3.6e6

// fresh is the value of a measure; nil where it is not known.
func fresh(m *monitor.Measure, places int) *float64 {
	if m == nil || !m.Fresh {
		return nil
	}
	return round(m.Value, places)
}

// timeOf is a time that may not be known.
func timeOf(t *time.Time) Time {
	if t == nil {
		return Time{}
	}
	return Time{*t}
}

// eventRefused is the kind of event that answers a command. The other kinds are
// the daemon's, and the words of `replay --json`.
const eventRefused event.Kind = "refused"

// EventMessage is the message of an event.
func EventMessage(e event.Event) []byte {
	return encode(struct {
		Kind      event.Kind `json:"event_type"`
		At        Time       `json:"ts"`
		ID        string     `json:"id"` // tells a repeat from a second event
		Text      string     `json:"text"`
		PeakAt    Time       `json:"peak_at"` // for a peak: its back-dated time
		HeightMM  *float64   `json:"height_mm"`
		RiseRatio *float64   `json:"rise_ratio"`
	}{e.Kind, Time{e.At}, eventID(e), e.Text, Time{e.Detected.PeakAt}, round(orNaN(e.Detected.HeightMM), 1), round(orNaN(e.Detected.RiseRatio), 3)})
}

// orNaN is NaN in place of a number that was never set.
func orNaN(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}
