package monitor

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// invented is a starter that took so long after each of its daily feeds, at 24 °C.
func invented(t *testing.T, m *Monitor, now time.Time, feeds int, took time.Duration) {
	t.Helper()
	for i := range feeds {
		at := now.AddDate(0, 0, i-feeds)
		if _, err := m.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: at, KeptG: 30, WaterG: 90, Flours: []store.Flour{{Kind: "wheat", Grams: 90}}}); err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(peak.Feed{At: at, PeakAt: at.Add(took), MeanTempC: 24, RiseMM: 60, RiseRatio: 2.2})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.Store.Journal.AddCurve(t.Context(), store.Curve{Vessel: "bramble", At: at, Data: data}); err != nil {
			t.Fatal(err)
		}
	}
}

// TestUsualPeak foretells from the feed on what a starter always did, says
// nothing of one that is hardly known or that takes its own way, and gives way
// to the curve, of which it says how the hour differs.
func TestUsualPeak(t *testing.T) {
	now := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	const took = 5 * time.Hour
	for _, tt := range []struct {
		name   string
		feeds  int
		fed    time.Duration // before now
		curve  time.Duration // when its own curve expects the peak, after the feed; 0 of one that says nothing
		source ForecastSource
		why    string
	}{
		{"just fed", 8, 10 * time.Minute, 0, PastFeeds, "now.note.starter_usual"},
		{"hardly known", 2, 10 * time.Minute, 0, "", ""},
		{"far beyond the usual hour", 8, 14 * time.Hour, 0, "", ""},
		{"its curve speaks", 8, 3 * time.Hour, took, OwnCurve, ""},
		{"its curve is slower", 8, 3 * time.Hour, took + 2*time.Hour, OwnCurve, "now.note.slower"},
		{"its curve is faster", 8, 3 * time.Hour, took - time.Hour, OwnCurve, "now.note.faster"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			fedAt := now.Add(-tt.fed)
			m, v := watched(t, "bramble", now, func(v *Vessel) { v.now.TempC = 24 })
			m.Conf.Plan.RoomC = 24
			invented(t, m, fedAt, tt.feeds, took)
			if _, err := m.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: fedAt}); err != nil { // one press, without amounts
				t.Fatal(err)
			}
			v.now.Status.Stage, v.now.Status.FedAt = peak.Lag, fedAt
			v.now.Stage = v.curveStage()
			s := v.Status(now)
			if tt.curve > 0 {
				at := fedAt.Add(tt.curve)
				v.now.Status.Stage = peak.Rising
				v.now.Stage = v.curveStage()
				v.now.Expecting, v.now.Forecast = true, peak.Forecast{PeakAt: at, Low: at, High: at, RiseRatio: 2}
				s = v.Status(now)
			}
			if tt.source == "" {
				if s.Forecast != nil {
					t.Fatalf("it foretells %v", s.Forecast)
				}
				return
			}
			if s.Forecast == nil || s.Forecast.Source != tt.source || s.Why.Key != tt.why {
				t.Fatalf("forecast %v because of %q, want one from %s because of %q", s.Forecast, s.Why.Key, tt.source, tt.why)
			}
			if tt.source != PastFeeds {
				return
			}
			if s.Forecast.Ratio == nil || *s.Forecast.Ratio != 2.2 {
				t.Errorf("it expects a rise of %v, each was 2.2", s.Forecast.Ratio)
			}
			if off := s.Forecast.At.Sub(fedAt.Add(took)); math.Abs(off.Minutes()) > 20 {
				t.Errorf("it expects %v after the feed, what took %v each time", s.Forecast.At.Sub(fedAt), took)
			}
			if !s.Forecast.Low.Before(fedAt.Add(took)) || !s.Forecast.High.After(fedAt.Add(took)) {
				t.Errorf("%v to %v after the feed leaves out what took %v each time", s.Forecast.Low.Sub(fedAt), s.Forecast.High.Sub(fedAt), took)
			}
		})
	}
}
