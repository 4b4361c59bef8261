package leavendtest

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// openHistory opens a store to fill; must ends the test where a write fails.
func openHistory(t *testing.T, path string) (s *store.Store, must func(any, error)) {
	t.Helper()
	s, _, err := store.Open(context.Background(), path, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	return s, func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
}

// BramblesPast fills a store with an invented starter that is fed 1:5:5 every
// morning and tops nine hours later at 22 °C, up to the last feed.
func BramblesPast(t *testing.T, path string, last time.Time, feeds int, topped bool) {
	t.Helper()
	ctx := context.Background()
	s, must := openHistory(t, path)
	defer s.Close()
	for i := range feeds {
		at := last.AddDate(0, 0, i-feeds+1)
		must(s.Journal.AddFeed(ctx, store.Feed{Vessel: "bramble", At: at, KeptG: 20, WaterG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 100}}}))
		for m := range 60 {
			s.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Warmth, At: at.Add(time.Duration(m) * 10 * time.Minute), Value: 22})
		}
		if i == feeds-1 && !topped {
			break
		}
		top := at.Add(9*time.Hour + time.Duration(i%3-1)*10*time.Minute)
		curve, err := json.Marshal(peak.Feed{At: at, PeakAt: top, WarmHours: 7, MeanTempC: 22, RiseMM: 60})
		must(nil, err)
		must(s.Journal.AddCurve(ctx, store.Curve{Vessel: "bramble", At: at, Data: curve}))
		must(s.Journal.AddEvent(ctx, store.Event{Vessel: "bramble", At: top, Kind: string(event.Peak), Data: []byte("{}")}))
	}
}

// DoughsPast fills a store with an invented baker's doughs in a bowl, one a week
// up to a moment, each 1.75 times its height after so long at 24 °C. Every other
// one was mixed by a plan.
func DoughsPast(t *testing.T, path, bowl string, last time.Time, doughs int, after time.Duration) {
	t.Helper()
	ctx := context.Background()
	s, must := openHistory(t, path)
	defer s.Close()
	for i := range doughs {
		at := last.AddDate(0, 0, 7*(i-doughs+1))
		must(s.Journal.AddFeed(ctx, store.Feed{Vessel: bowl, At: at, KeptG: 100, WaterG: 330, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}}))
		for m := range 60 {
			s.Readings.Add(store.Reading{Vessel: bowl, Channel: store.Warmth, At: at.Add(time.Duration(m) * 10 * time.Minute), Value: 24})
		}
		ratio := 1.75
		came, err := json.Marshal(monitor.EventData{PeakAt: at.Add(after), RiseRatio: &ratio})
		must(nil, err)
		must(s.Journal.AddEvent(ctx, store.Event{Vessel: bowl, At: at.Add(after + 3*time.Minute), Kind: string(event.Target), Data: came}))
	}
}

// PeakedFeed stores a feed with its forecast and its peak, as the daemon does.
func PeakedFeed(t *testing.T, s *store.Store, slug string, at time.Time) store.Feed {
	t.Helper()
	ctx, top := t.Context(), at.Add(5*time.Hour)
	feed, err := s.Journal.AddFeed(ctx, store.Feed{Vessel: slug, At: at, KeptG: 20, Flours: []store.Flour{{Kind: "wheat", Grams: 50}}, WaterG: 50})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Journal.AddForecast(ctx, store.Forecast{Vessel: slug, At: top.Add(-150 * time.Minute), Feed: feed.ID, Peak: top, Low: top.Add(-time.Hour), High: top.Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	past := peak.Feed{At: at, PeakAt: top, WarmHours: 5, MeanTempC: 25, RiseMM: 60, RiseRatio: 2, Curve: make([]float32, 20)}
	for i := range past.Curve {
		past.Curve[i] = float32(i+1) / 20
	}
	data, err := json.Marshal(past)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Journal.AddCurve(ctx, store.Curve{Vessel: slug, At: at, Data: data}); err != nil {
		t.Fatal(err)
	}
	data, err = json.Marshal(monitor.EventData{PeakAt: top})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Journal.AddEvent(ctx, store.Event{Vessel: slug, At: top, Kind: string(event.Peak), Data: data}); err != nil {
		t.Fatal(err)
	}
	return feed
}
