package store

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// wrist is a clock that tests move by hand.
type wrist struct {
	mu     sync.Mutex
	wall   time.Time
	up     time.Duration
	boot   string
	synced bool
}

var epoch = time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)

func newWrist() *wrist { return &wrist{wall: epoch, up: time.Hour, boot: "boot 1", synced: true} }

func (w *wrist) Now() time.Time        { w.mu.Lock(); defer w.mu.Unlock(); return w.wall }
func (w *wrist) Uptime() time.Duration { w.mu.Lock(); defer w.mu.Unlock(); return w.up }
func (w *wrist) Boot() string          { w.mu.Lock(); defer w.mu.Unlock(); return w.boot }
func (w *wrist) Synced() bool          { w.mu.Lock(); defer w.mu.Unlock(); return w.synced }

// pass lets time pass.
func (w *wrist) pass(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.wall, w.up = w.wall.Add(d), w.up+d
}

// jump steps the wall clock only.
func (w *wrist) jump(d time.Duration, synced bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.wall, w.synced = w.wall.Add(d), synced
}

// reboot starts a new boot whose wall clock says now.
func (w *wrist) reboot(name string, now time.Time, synced bool) {
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

func newTestStore(t testing.TB) (*Store, *wrist) {
	t.Helper()
	w := newWrist()
	s := reopen(t, filepath.Join(t.TempDir(), "leavend.db"), w)
	t.Cleanup(func() { s.Close() })
	return s, w
}

// fill adds n readings of each channel, 10 s apart, and moves the clock along.
// Distances fall and temperatures rise by the reading, so each is unlike any
// other.
func fill(s *Store, w *wrist, vessel string, n int) []Reading {
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
	w := newWrist()
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

// summed works out from readings directly, the plain way, what each step of a
// window holds. The key is the step's start in ms; step 0 sums up all.
func summed(rs []Reading, c Channel, from, to time.Time, step time.Duration) map[int64]Stat {
	sums := map[int64]Stat{}
	for _, r := range rs {
		if r.Channel != c || r.At.Before(from) || !r.At.Before(to) {
			continue
		}
		key := int64(0)
		if step > 0 {
			key = floor(r.At.UnixMilli(), step.Milliseconds())
		}
		st := sums[key]
		if st.N == 0 {
			st.Min, st.Max = r.Value, r.Value
		}
		st.Min, st.Max = min(st.Min, r.Value), max(st.Max, r.Value)
		st.Mean = (st.Mean*float64(st.N) + r.Value) / float64(st.N+1)
		st.N++
		sums[key] = st
	}
	return sums
}

// checkWindow holds a window of a vessel against its readings: all of them
// are in it, in order, and its first, whole points are worked out right.
func checkWindow(t *testing.T, s *Store, vessel string, rs []Reading, from, to time.Time, points int) Window {
	t.Helper()
	w, err := s.Readings.Window(t.Context(), vessel, from, to, points)
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Points) > points {
		t.Errorf("%d points, want at most %d", len(w.Points), points)
	}
	for i, c := range w.Channels {
		want := summed(rs, c, from, to, 0)[0]
		got := Stat{}
		var sum float64
		for _, p := range w.Points {
			st := p.Stats[i]
			if st.N == 0 {
				continue
			}
			if got.N == 0 {
				got.Min, got.Max = st.Min, st.Max
			}
			got.Min, got.Max = min(got.Min, st.Min), max(got.Max, st.Max)
			got.N += st.N
			sum += st.Mean * float64(st.N)
		}
		got.Mean = sum / float64(got.N)
		if diff := cmp.Diff(want, got, oneTen); diff != "" {
			t.Errorf("%s over the window, rollup %v (-want +got): %s", c, w.Rollup, diff)
		}
		steps := summed(rs, c, from, to, w.Step)
		for _, p := range w.Points {
			start := time.UnixMilli(floor(p.At.UnixMilli(), w.Step.Milliseconds())).UTC()
			if p.Stats[i].N == 0 || start.Before(from) || start.Add(w.Step).After(to) {
				continue
			}
			if diff := cmp.Diff(steps[start.UnixMilli()], p.Stats[i], oneTen); diff != "" {
				t.Fatalf("%s at %v, step %v, rollup %v (-want +got): %s", c, start, w.Step, w.Rollup, diff)
			}
		}
	}
	if !slices.IsSortedFunc(w.Points, func(a, b Point) int { return a.At.Compare(b.At) }) {
		t.Error("points are out of order")
	}
	return w
}

func TestWindowAtEachZoom(t *testing.T) {
	w := newWrist()
	w.wall = epoch.Truncate(24 * time.Hour) // so that whole days are whole rollups
	s := reopen(t, filepath.Join(t.TempDir(), "leavend.db"), w)
	from := w.Now()
	var all []Reading
	for range 30 { // two and a half days in commits of two hours, with a restart between
		all = append(all, fill(s, w, "Bramble", 720)...)
		flush(t, s)
	}
	all = append(all, fill(s, w, "Bramble", 100)...)
	for i := range 2 {
		checkWindow(t, s, "Bramble", all, from, from.Add(time.Hour), 400)
		checkWindow(t, s, "Bramble", all, from.Add(90*time.Minute), from.Add(31*time.Hour), 500)
		checkWindow(t, s, "Bramble", all, from, w.Now().Add(time.Hour), 2000)
		if got := checkWindow(t, s, "Bramble", all, from, from.AddDate(0, 0, 400), 2000); got.Rollup != 15*time.Minute {
			t.Errorf("a year is drawn from rollups of %v", got.Rollup)
		}
		if got := checkWindow(t, s, "Bramble", all, from, from.AddDate(5, 0, 0), 2000); got.Rollup != 24*time.Hour {
			t.Errorf("five years are drawn from rollups of %v", got.Rollup)
		}
		if i == 0 {
			s.Close()
			s = reopen(t, s.Path(), w)
		}
	}
	s.Close()
}

// TestWindowOfOnePoint sums up a stretch that starts at any moment, such as
// the first minutes after a feed.
func TestWindowOfOnePoint(t *testing.T) {
	s, w := newTestStore(t)
	all := fill(s, w, "Bramble", 500)
	flush(t, s)
	from, to := epoch.Add(777*time.Second), epoch.Add(1377*time.Second)
	win, err := s.Readings.Window(t.Context(), "Bramble", from, to, 1)
	if err != nil || len(win.Points) != 1 {
		t.Fatalf("%d points, %v", len(win.Points), err)
	}
	want := []Stat{summed(all, Distance, from, to, 0)[0], summed(all, Warmth, from, to, 0)[0]}
	if diff := cmp.Diff(want, win.Points[0].Stats, oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
	if _, err := s.Readings.Window(t.Context(), "Bramble", to, from, 1); err == nil {
		t.Error("a window that ends before its start gives no error")
	}
}

// TestWindowOnItsRaster moves a window along: points inside stay the same.
func TestWindowOnItsRaster(t *testing.T) {
	s, w := newTestStore(t)
	fill(s, w, "Bramble", 2000)
	at := func(from time.Time) Window {
		win, err := s.Readings.Window(t.Context(), "Bramble", from, from.Add(3*time.Hour), 50)
		if err != nil {
			t.Fatal(err)
		}
		return win
	}
	a, b := at(epoch), at(epoch.Add(10*time.Minute))
	byTime := map[time.Time]Point{}
	for _, p := range a.Points[1 : len(a.Points)-1] {
		byTime[p.At] = p
	}
	same := 0
	for _, p := range b.Points[1 : len(b.Points)-1] {
		if q, ok := byTime[p.At]; ok && cmp.Equal(p, q) {
			same++
		}
	}
	if same < len(a.Points)*3/4 {
		t.Errorf("of %d points only %d are the same in a window 10 minutes on", len(a.Points), same)
	}
}
