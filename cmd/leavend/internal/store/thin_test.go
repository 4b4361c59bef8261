package store

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestThin removes what is old at full rate; a window of it stays as it was.
func TestThin(t *testing.T) {
	s, w := newTestStore(t)
	fill(s, w, "Bramble", 3000)
	flush(t, s)
	w.pass(100 * 24 * time.Hour)
	later := fill(s, w, "Bramble", 3000)
	flush(t, s)
	before := checkWindow(t, s, "Bramble", readings(t, s, "Bramble", epoch), epoch, epoch.AddDate(0, 0, 1), 1000)
	if err := s.Readings.Thin(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := readings(t, s, "Bramble", epoch); len(got) != len(later) {
		t.Errorf("%d readings at full rate are left, want %d", len(got), len(later))
	}
	after, err := s.Readings.Window(t.Context(), "Bramble", epoch, epoch.AddDate(0, 0, 1), 1000)
	if diff := cmp.Diff(before.Points, after.Points); diff != "" || err != nil {
		t.Error("the window changed with thinning:", err, diff)
	}
}
