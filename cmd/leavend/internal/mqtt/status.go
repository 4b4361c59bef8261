package mqtt

import (
	"time"

	"leavend/cmd/leavend/internal/monitor"
)

// VesselOf is a vessel's status as it goes out. A value whose reading is no
// longer fresh is left out: a hub would show it as if it were of now.
func VesselOf(s monitor.Status) Vessel {
	out := Vessel{
		ID: s.ID, At: timeOf(s.ReadAt), Stage: string(s.Stage), Available: s.Available,
		HeightMM: fresh(s.Height), RiseMM: fresh(s.Rise), RiseRatio: fresh(s.Ratio), TemperatureC: fresh(s.Temp),
	}
	if s.Feed != nil {
		out.FedAt = s.Feed.At
	}
	switch {
	case s.Forecast != nil:
		out.PeakAt, out.PeakLow, out.PeakHigh = s.Forecast.At, s.Forecast.Low, s.Forecast.High
	case s.Call != nil:
		out.PeakAt = s.Call.At
	}
	return out
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
