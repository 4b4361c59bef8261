package monitor

import (
	"sync"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// TestOneFeedIsStoredOnce tells the feeds of a jar in ways that a poor line, a broker
// and the detector bring about, and counts what the journal holds.
func TestOneFeedIsStoredOnce(t *testing.T) {
	now := time.Now().Truncate(time.Second)
	mixed := store.Feed{KeptG: 20, WaterG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 100}}}
	at := func(f store.Feed, ago time.Duration) store.Feed { f.At = now.Add(-ago); return f }
	found := store.Feed{Vessel: "bramble", At: now.Add(-20 * time.Minute), Source: store.Found}
	for _, tt := range []struct {
		name   string
		found  bool
		told   []store.Feed
		want   int
		source string
	}{
		{"a press that comes twice", false, []store.Feed{{}, {}}, 1, store.Marked},
		{"the amounts, then the press once more", false, []store.Feed{at(mixed, time.Minute), at(store.Feed{}, 30*time.Second)}, 1, store.Marked},
		{"the same amounts twice", false, []store.Feed{at(mixed, time.Hour), at(mixed, time.Hour)}, 1, store.Marked},
		{"a press, and other amounts", false, []store.Feed{{}, at(mixed, 0)}, 2, store.Marked},
		{"a quarter of an hour later", false, []store.Feed{at(store.Feed{}, 15*time.Minute), {}}, 2, store.Marked},
		{"a press after the detector found the feed", true, []store.Feed{{}}, 1, store.Marked},
		{"a forgotten feed that the detector had found", true, []store.Feed{at(store.Feed{}, 30*time.Minute)}, 1, store.Marked},
		{"a press after the detector found the feed, and the feed before it", true, []store.Feed{{}, at(mixed, 2*time.Hour)}, 2, store.Marked},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, _ := watched(t, "bramble", now, nil)
			if tt.found {
				if _, err := m.Store.Journal.AddFeed(t.Context(), found); err != nil {
					t.Fatal(err)
				}
			}
			for _, f := range tt.told {
				if _, err := m.Fed(t.Context(), "bramble", f); err != nil {
					t.Fatal(err)
				}
			}
			feeds, err := m.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"})
			if err != nil || len(feeds) != tt.want || feeds[0].Source != tt.source {
				t.Errorf("%d feeds %+v, %v; want %d", len(feeds), feeds, err, tt.want)
			}
		})
	}
}

// TestPressesAtOnce has twenty presses arrive together.
func TestPressesAtOnce(t *testing.T) {
	m, _ := watched(t, "bramble", time.Now(), nil)
	var presses sync.WaitGroup
	for range 20 {
		presses.Go(func() {
			if _, err := m.Fed(t.Context(), "bramble", store.Feed{}); err != nil {
				t.Error(err)
			}
		})
	}
	presses.Wait()
	if feeds, err := m.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"}); err != nil || len(feeds) != 1 {
		t.Errorf("%d feeds, %v; want 1", len(feeds), err)
	}
}

// TestFoundAfterThePress has the baker press before the jar is taken away: the feed that
// the detector finds ten minutes later is the same, and one an hour later is another.
func TestFoundAfterThePress(t *testing.T) {
	now := time.Now().Truncate(time.Second)
	m, _ := watched(t, "bramble", now, nil)
	var err error
	if m.Events, err = event.OpenLog(t.Context(), m.Store.EventLog); err != nil {
		t.Fatal(err)
	}
	if _, err := m.Fed(t.Context(), "bramble", store.Feed{At: now.Add(-2 * time.Hour), KeptG: 20}); err != nil {
		t.Fatal(err)
	}
	for i, ago := range []time.Duration{110 * time.Minute, 50 * time.Minute} {
		at := now.Add(-ago)
		if err := m.SavePast(t.Context(), event.Event{Kind: event.Fed, Subject: "bramble", At: at, Detected: peak.Event{Source: store.Found, FeedAt: at}}); err != nil {
			t.Fatal(err)
		}
		feeds, err := m.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"})
		if err != nil || len(feeds) != i+1 || !feeds[0].At.Equal(at) || feeds[i].KeptG != 20 {
			t.Errorf("%v ago: %d feeds %+v, %v; want %d", ago, len(feeds), feeds, err, i+1)
		}
	}
}
