package demo

import (
	"encoding/json"
	"math"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/sensor/sim"
)

// TestDemoPast holds the invented past to the kitchen's own truth: every feed
// is there, and the tops that the detector calls are where the simulation has
// them.
func TestDemoPast(t *testing.T) {
	ctx := t.Context()
	opened := time.Date(2027, 3, 6, 9, 0, 0, 0, time.UTC)
	k, err := openKitchen(ctx, func() time.Time { return opened }, 1)
	if err != nil {
		t.Fatal(err)
	}
	conf, err := Opts{Units: "metric", Clock: 24}.config(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s, _, err := store.Open(ctx, filepath.Join(t.TempDir(), "demo.db"), store.Opts{Clock: store.SteadyClock(func() time.Time { return opened }, "made up")})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := k.remember(conf)(ctx, s); err != nil {
		t.Fatal(err)
	}
	for slug, want := range map[string]int{"bramble": pastFeeds + 1, "pilot": 1, "bowl": 0} {
		feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: slug})
		if err != nil || len(feeds) != want {
			t.Errorf("%s has %d feeds (%v), want %d", slug, len(feeds), err, want)
		}
		if slug == "pilot" && len(feeds) == 1 && opened.Sub(feeds[0].At).Round(10*time.Minute) != 4*time.Hour {
			t.Errorf("pilot was fed at %s, want four hours before %s", feeds[0].At, opened)
		}
	}
	truth := sim.DemoHistory(1, opened.Add(-morning), pastFeeds).Truth
	events, err := s.Journal.Events(ctx, store.Query{Vessel: "bramble"})
	if err != nil {
		t.Fatal(err)
	}
	var tops []time.Time
	for _, e := range events {
		var data monitor.EventData
		if event.Kind(e.Kind) == event.Peak && json.Unmarshal(e.Data, &data) == nil {
			tops = append(tops, data.PeakAt)
		}
	}
	missed := 0
	for _, f := range truth.Feeds {
		nearest := math.Inf(1)
		for _, top := range tops {
			nearest = min(nearest, top.Sub(f.Top).Abs().Minutes())
		}
		if nearest > 40 {
			missed++
		}
	}
	if missed > 1 {
		t.Errorf("%d of %d true tops have no call within 40 minutes", missed, len(truth.Feeds))
	}
	w, err := s.Readings.Window(ctx, "bramble", opened.Add(-24*time.Hour), opened, 100)
	if err != nil || len(w.Points) < 90 {
		t.Errorf("the last day has %d points (%v), want about 100", len(w.Points), err)
	}
}
