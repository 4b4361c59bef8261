package metrics

import (
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
)

// VesselOf is a vessel's status as the metrics show it. A value whose reading
// is no longer fresh is left out, as Prometheus expects.
func VesselOf(s monitor.Status) Vessel {
	out := Vessel{
		ID: s.ID, Available: s.Available, Stage: string(s.Stage),
		HeightMM: fresh(s.Height), RiseMM: fresh(s.Rise), RiseRatio: fresh(s.Ratio), TemperatureC: fresh(s.Temp),
	}
	if s.Feed != nil {
		out.FedAt = s.Feed.At
		if s.Feed.DueAt != nil {
			out.FeedDueAt = *s.Feed.DueAt
		}
	}
	if f := s.Forecast; f != nil {
		out.ForecastAt, out.ForecastLow, out.ForecastHigh = f.At, f.Low, f.High
	}
	if s.Call != nil {
		out.PeakAt = s.Call.At
	}
	return out
}

// MatOf is a mat as the metrics show it, with the energy that it drew; nil where
// that is not known.
func MatOf(s control.State, conf *config.Config, energyJ *float64) Mat {
	m := Mat{
		ID: event.SubjectMat, On: s.On, Enabled: s.Mode == control.Hold, OnTime: s.OnTotal, EnergyJ: energyJ, Switches: s.OnSwitches,
		SetpointC: &s.SetpointC, CutoffC: &conf.Mat.CutoffVesselC, DecidedAt: s.At,
	}
	if s.MatOK {
		m.MatC = &s.MatC
	}
	for _, f := range s.Faults {
		m.Latched = m.Latched || f.Latched
	}
	return m
}

// fresh is the value of a measure; nil where it is not known.
func fresh(m *monitor.Measure) *float64 {
	if m == nil || !m.Fresh {
		return nil
	}
	return &m.Value
}
