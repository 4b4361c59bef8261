package store

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestReadingsComeBack(t *testing.T) {
	s, w := newTestStore(t)
	want := fill(s, w, "Bramble", 100)
	fill(s, w, "Pilot", 3)
	if diff := cmp.Diff(want, readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Error("before the commit (-want +got):", diff)
	}
	flush(t, s)
	want = append(want, fill(s, w, "Bramble", 2)...)
	if diff := cmp.Diff(want, readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Error("half committed (-want +got):", diff)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = reopen(t, s.Path(), w)
	defer s.Close()
	if diff := cmp.Diff(want, readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Error("after a restart (-want +got):", diff)
	}
	if diff := cmp.Diff(want[20:], readings(t, s, "Bramble", epoch.Add(100*time.Second)), oneTen); diff != "" {
		t.Error("since a time (-want +got):", diff)
	}
	if got := readings(t, s, "Unknown", epoch); got != nil {
		t.Errorf("readings of a vessel without any = %v", got)
	}
}

// TestStepsOfAProbeAreExact checks each value of a DS18B20 at 12 bits, whose
// step is 1/16 °C (data sheet, table 1), from -55 to 125 °C.
func TestStepsOfAProbeAreExact(t *testing.T) {
	for raw := -55 * 16; raw <= 125*16; raw++ {
		want := float64(raw) / 16
		v, ok := quantise(want)
		if got := value(v); !ok || got != want {
			t.Fatalf("%g °C comes back as %g, %v", want, got, ok)
		}
	}
}

func TestAddRefusesNonsense(t *testing.T) {
	s, w := newTestStore(t)
	for _, r := range []Reading{
		{"Bramble", Distance, w.Now(), math.NaN()},
		{"Bramble", Distance, w.Now(), math.Inf(1)},
		{"Bramble", Distance, w.Now(), -1e300},
		{"", Distance, w.Now(), 1},
		{"Bramble", "", w.Now(), 1},
	} {
		s.Readings.Add(r)
	}
	if got := s.Stats(); got.Refused != 5 || got.Buffered != 0 {
		t.Errorf("stats = %+v, want 5 refused", got)
	}
}

func TestAddDropsTheOldestWhenFull(t *testing.T) {
	w := newHandClock()
	s, _, err := Open(t.Context(), filepath.Join(t.TempDir(), "x.db"), Opts{Clock: w, Buffer: 10})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	all := fill(s, w, "Bramble", 8)
	if got := s.Stats(); got.Dropped != 6 || got.Buffered != 10 {
		t.Errorf("stats = %+v, want 6 dropped, 10 buffered", got)
	}
	if diff := cmp.Diff(all[6:], readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
}

func TestFeedsAreKeptCorrectedAndUndone(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	warm := 30.0
	first, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: epoch, KeptG: 20, WaterG: 100, WaterTempC: &warm, CleanJar: true,
		Flours: []Flour{{"wheat", 80}, {"rye", 20}}, Note: "first"})
	if err != nil {
		t.Fatal(err)
	}
	w.pass(12 * time.Hour)
	second, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now(), Source: Found})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Pilot", At: w.Now()}); err != nil {
		t.Fatal(err)
	}
	got, err := s.Journal.Feeds(ctx, Query{Vessel: "Bramble"})
	if diff := cmp.Diff([]Feed{second, first}, got); diff != "" || err != nil {
		t.Fatal(err, "(-want +got):", diff)
	}

	fixed := first
	fixed.WaterG, fixed.At = 120, epoch.Add(-10*time.Minute)
	if err := s.Journal.CorrectFeed(ctx, fixed); err != nil {
		t.Fatal(err)
	}
	if err := s.Journal.UndoFeed(ctx, second.ID); err != nil {
		t.Fatal(err)
	}
	got, err = s.Journal.Feeds(ctx, Query{Vessel: "Bramble"})
	if diff := cmp.Diff([]Feed{fixed}, got); diff != "" || err != nil {
		t.Fatal(err, "(-want +got):", diff)
	}
	before, err := s.Journal.Revisions(ctx)
	if err != nil || len(before) != 2 || before[0].Entry != second.ID || before[1].Entry != first.ID || !before[1].At.Equal(epoch) || before[1].Removed {
		t.Fatalf("revisions = %+v, %v", before, err)
	}
	last, ok, err := s.Journal.LastFeed(ctx, "Bramble")
	if diff := cmp.Diff(fixed, last); diff != "" || !ok || err != nil {
		t.Fatal(ok, err, "(-want +got):", diff)
	}
	if err := s.Journal.UndoFeed(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("undo of no feed: %v", err)
	}
}

func TestFeedsRefuseNonsense(t *testing.T) {
	s, w := newTestStore(t)
	hot := math.NaN()
	for name, f := range map[string]Feed{
		"no vessel":      {At: w.Now()},
		"no time":        {Vessel: "Bramble"},
		"odd source":     {Vessel: "Bramble", At: w.Now(), Source: "guess"},
		"negative flour": {Vessel: "Bramble", At: w.Now(), Flours: []Flour{{"rye", -1}}},
		"no number":      {Vessel: "Bramble", At: w.Now(), KeptG: math.NaN()},
		"water no temp":  {Vessel: "Bramble", At: w.Now(), WaterTempC: &hot},
	} {
		if _, err := s.Journal.AddFeed(context.Background(), f); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if all, _ := s.Journal.Feeds(t.Context(), Query{}); len(all) != 0 {
		t.Errorf("stored %v", all)
	}
}
