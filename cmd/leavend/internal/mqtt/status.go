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
		ID: s.ID, At: timeOf(s.ReadAt), Stage: string(s.Stage), Available: s.Available,
		HeightMM: fresh(s.Height), RiseMM: fresh(s.Rise), RiseRatio: fresh(s.Ratio), TemperatureC: fresh(s.Temp),
	}
	if s.Feed != nil {
		out.FedAt, out.FeedDueAt = s.Feed.At, timeOf(s.Feed.DueAt)
	}
	if s.Call != nil {
		out.CalledAt = s.Call.At
	}
	out.BestUntil = timeOf(s.BestUntil)
	switch {
	case s.Forecast != nil:
		out.ExpectedAt = s.Forecast.At
		out.PeakAt, out.PeakLow, out.PeakHigh = s.Forecast.At, s.Forecast.Low, s.Forecast.High
	case s.Call != nil:
		out.PeakAt = s.Call.At
	}
	return out
}

// MatOf is a mat as it goes out. energyJ is what it has used, nil where its power
// is not known.
func MatOf(now time.Time, s control.State, conf *config.Config, energyJ *float64) Mat {
	m := Mat{
		ID: event.SubjectMat, At: now, On: s.On, Mode: ModeOff, Reason: heating.Why(s).In(conf.Reader()),
		SetpointC: finite(s.SetpointC, true), CutoffC: finite(conf.Mat.CutoffVesselC, true),
		TemperatureC: finite(s.VesselC, s.VesselOK), MatC: finite(s.MatC, s.MatOK),
		ReasonCode: string(s.Reason), Switches: finite(float64(s.OnSwitches), true),
	}
	if energyJ != nil {
		m.EnergyKWh = finite(*energyJ/joulesInKWh, true)
	}
	if s.Mode == control.Hold {
		m.Mode = ModeHeat
	}
	for _, f := range s.Faults {
		m.Latched = m.Latched || f.Latched
	}
	return m
}

// joulesInKWh is what the unit of energy bills holds.
const joulesInKWh = 3.6e6

// finite is a number that is known, else nil.
func finite(v float64, known bool) *float64 {
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// fresh is the value of a measure; nil where it is not known.
func fresh(m *monitor.Measure) *float64 {
	if m == nil || !m.Fresh {
		return nil
	}
	return &m.Value
}

// timeOf is a time, zero where it is not known.
func timeOf(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return *t
}
