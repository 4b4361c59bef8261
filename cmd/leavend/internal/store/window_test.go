package store

import (
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

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
	w := newHandClock()
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
