package store

import (
	"math"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// handClock is a clock that tests move by hand.
type handClock struct {
	mu     sync.Mutex
	wall   time.Time
	up     time.Duration
	boot   string
	synced bool
}

var epoch = time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)

func newHandClock() *handClock {
	return &handClock{wall: epoch, up: time.Hour, boot: "boot 1", synced: true}
}

func (w *handClock) Now() time.Time        { w.mu.Lock(); defer w.mu.Unlock(); return w.wall }
func (w *handClock) Uptime() time.Duration { w.mu.Lock(); defer w.mu.Unlock(); return w.up }
func (w *handClock) Boot() string          { w.mu.Lock(); defer w.mu.Unlock(); return w.boot }
func (w *handClock) Synced() bool          { w.mu.Lock(); defer w.mu.Unlock(); return w.synced }

// pass lets time pass.
func (w *handClock) pass(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.wall, w.up = w.wall.Add(d), w.up+d
}

// jump steps the wall clock only.
func (w *handClock) jump(d time.Duration, synced bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.wall, w.synced = w.wall.Add(d), synced
}

// reboot starts a new boot whose wall clock says now.
func (w *handClock) reboot(name string, now time.Time, synced bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.boot, w.wall, w.up, w.synced = name, now, 20*time.Second, synced
}

// reopen opens the store at path; it must be sound.
func reopen(t testing.TB, path string, clock Clock) *Store {
	t.Helper()
	s, report, err := Open(t.Context(), path, Opts{Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	if !report.OK() {
		t.Fatal(report)
	}
	return s
}

func newTestStore(t testing.TB) (*Store, *handClock) {
	t.Helper()
	w := newHandClock()
	s := reopen(t, filepath.Join(t.TempDir(), "leavend.db"), w)
	t.Cleanup(func() { s.Close() })
	return s, w
}

// fill adds n readings of each channel, 10 s apart, and moves the clock along.
// Distances fall and temperatures rise by the reading, so each is unlike any
// other.
func fill(s *Store, w *handClock, vessel string, n int) []Reading {
	var all []Reading
	for i := range n {
		at := w.Now()
		for _, r := range []Reading{
			{vessel, Distance, at, 140 - float64(i%900)*0.1},
			{vessel, Warmth, at.Add(time.Second), 24 + float64(i%160)*0.0625},
		} {
			s.Readings.Add(r)
			all = append(all, r)
		}
		w.pass(10 * time.Second)
	}
	return all
}

func readings(t testing.TB, s *Store, vessel string, since time.Time) []Reading {
	t.Helper()
	var all []Reading
	for r, err := range s.Readings.ReadingsSince(t.Context(), vessel, since) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, r)
	}
	return all
}

func flush(t testing.TB, s *Store) {
	t.Helper()
	if err := s.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// oneTen compares values as they are kept.
var oneTen = cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < quantum/2 })
