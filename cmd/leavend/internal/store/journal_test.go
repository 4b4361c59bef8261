package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestEventsForecastsAndCurves(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	feed, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()})
	must(err)
	w.pass(time.Hour)
	event, err := s.Journal.AddEvent(ctx, Event{Vessel: "Bramble", At: w.Now(), Kind: "peak", Data: json.RawMessage(`{"height_mm":98.5}`)})
	must(err)
	forecast, err := s.Journal.AddForecast(ctx, Forecast{Vessel: "Bramble", At: w.Now(), Feed: feed.ID,
		Peak: w.Now().Add(3 * time.Hour), Low: w.Now().Add(2 * time.Hour), High: w.Now().Add(4 * time.Hour), RiseRatio: 2.2})
	must(err)
	curve, err := s.Journal.AddCurve(ctx, Curve{Vessel: "Bramble", At: feed.At, Feed: feed.ID, Data: json.RawMessage(`[1,2,3]`)})
	must(err)

	events, err := s.Journal.Events(ctx, Query{})
	must(err)
	forecasts, err := s.Journal.Forecasts(ctx, Query{Vessel: "Bramble", From: epoch, To: w.Now().Add(time.Second)})
	must(err)
	curves, err := s.Journal.Curves(ctx, Query{Vessel: "Bramble", Limit: 5})
	must(err)
	if diff := cmp.Diff([]Event{event}, events); diff != "" {
		t.Error("events (-want +got):", diff)
	}
	if diff := cmp.Diff([]Forecast{forecast}, forecasts); diff != "" {
		t.Error("forecasts (-want +got):", diff)
	}
	if diff := cmp.Diff([]Curve{curve}, curves); diff != "" {
		t.Error("curves (-want +got):", diff)
	}
	if got, _ := s.Journal.Events(ctx, Query{Vessel: "Pilot"}); got != nil {
		t.Errorf("events of another vessel: %v", got)
	}
	if got, _ := s.Journal.Events(ctx, Query{To: event.At}); got != nil {
		t.Errorf("events before the first: %v", got)
	}
	if err := s.Journal.UndoFeed(ctx, event.ID); !errors.Is(err, ErrNotFound) {
		t.Errorf("taking back an event as if it were a feed: %v", err)
	}
}

func TestBakesAndPhotos(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	bake, err := s.Journal.AddBake(ctx, Bake{Vessel: "Bramble", At: w.Now(), Note: "open crumb", Stars: 4})
	if err != nil {
		t.Fatal(err)
	}
	photo := bytes.Repeat([]byte{0xff, 0xd8, 1}, 100_000)
	for _, p := range [][]byte{{1}, photo} { // the second takes the place of the first
		if err := s.Journal.SetPhoto(ctx, bake.ID, "image/jpeg", p); err != nil {
			t.Fatal(err)
		}
	}
	kind, got, err := s.Journal.Photo(ctx, bake.ID)
	if kind != "image/jpeg" || !bytes.Equal(got, photo) || err != nil {
		t.Errorf("photo: %q, %d bytes, %v", kind, len(got), err)
	}
	bake.Stars = 5
	if err := s.Journal.CorrectBake(ctx, bake); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Journal.Bakes(ctx, Query{}); err != nil || cmp.Diff([]Bake{bake}, got) != "" {
		t.Errorf("bakes %+v, %v", got, err)
	}
	s.Journal.UndoBake(ctx, bake.ID)
	if got, _ := s.Journal.Bakes(ctx, Query{}); got != nil {
		t.Errorf("a bake taken back: %+v", got)
	}
	if bake, err = s.Journal.AddBake(ctx, bake); err != nil {
		t.Fatal(err)
	}

	for name, err := range map[string]error{
		"six stars":       second(s.Journal.AddBake(ctx, Bake{At: w.Now(), Stars: 6})),
		"no image":        s.Journal.SetPhoto(ctx, bake.ID, "text/html", photo),
		"empty":           s.Journal.SetPhoto(ctx, bake.ID, "image/png", nil),
		"too large":       s.Journal.SetPhoto(ctx, bake.ID, "image/png", make([]byte, MaxPhoto+1)),
		"of no bake":      s.Journal.SetPhoto(ctx, bake.ID+1, "image/png", photo),
		"photo of no one": func() error { _, _, err := s.Journal.Photo(ctx, 99); return err }(),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestSettingsKeepTheirPast(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	for _, v := range []float64{24, 26, 26, 27.5} {
		if err := s.States.SetSetting(ctx, "setpoint_c", v); err != nil {
			t.Fatal(err)
		}
		w.pass(time.Hour)
	}
	s.States.SetSetting(ctx, "fridge", true)
	var got float64
	if ok, err := s.States.Setting(ctx, "setpoint_c", &got); !ok || err != nil || got != 27.5 {
		t.Errorf("setpoint %g, %v, %v", got, ok, err)
	}
	if ok, err := s.States.Setting(ctx, "none", &got); ok || err != nil {
		t.Errorf("a setting never set: %v, %v", ok, err)
	}
	all, err := s.States.Settings(ctx)
	var values []string
	for _, v := range all {
		values = append(values, v.Name+" "+string(v.Value))
	}
	want := []string{"fridge true", "setpoint_c 27.5", "setpoint_c 26", "setpoint_c 24"}
	if diff := cmp.Diff(want, values); diff != "" || err != nil {
		t.Error(err, "(-want +got):", diff)
	}
}

func TestStatesAreOnTheDisk(t *testing.T) {
	s, w := newTestStore(t)
	type mat struct{ Latched []string }
	want := mat{[]string{"cutoff"}}
	for _, v := range []mat{{}, want} {
		if err := s.States.SetState(t.Context(), "mat", v); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	s = reopen(t, s.Path(), w)
	defer s.Close()
	var got mat
	if ok, err := s.States.State(t.Context(), "mat", &got); !ok || err != nil || cmp.Diff(want, got) != "" {
		t.Errorf("%+v, %v, %v", got, ok, err)
	}
	if all, _ := s.States.Settings(t.Context()); all != nil {
		t.Errorf("a state among the settings: %v", all)
	}
}
