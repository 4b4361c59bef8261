package backend

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// TestBaselineIsKept asks for a curve over many feeds, and again after a restart:
// what it comes down to is the same, is then read from one place, and gives way
// when a feed's hour is corrected.
func TestBaselineIsKept(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))

	now := time.Now().Truncate(time.Minute)
	from := now.Add(-10 * 12 * time.Hour)
	var feeds []store.Feed
	for at := from; at.Before(now); at = at.Add(time.Minute) {
		if n := len(feeds); n == 0 || at.Sub(feeds[n-1].At) >= 12*time.Hour {
			f, err := d.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: at})
			if err != nil {
				t.Fatal(err)
			}
			feeds = append(feeds, f)
		}
		// Each feed starts 2 mm higher than the one before, and doubles.
		base := 40 + 2*float64(len(feeds))
		d.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Height, At: at,
			Value: base * (1 + math.Sin(math.Pi*at.Sub(feeds[len(feeds)-1].At).Hours()/12))})
	}
	if err := d.Store.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	ask := func() web.Window {
		w, err := (&History{m: d}).Window(t.Context(), "bramble", web.Span{From: from, To: now, Max: 500})
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	first := ask()
	highest := 0.0
	for _, r := range first.RatioHigh {
		highest = max(highest, r)
	}
	if highest < 1.9 || highest > 2 {
		t.Errorf("the feeds double, but the highest ratio is %.2f", highest)
	}
	var kept map[int64]baseline
	if ok, err := d.Store.States.State(t.Context(), BaselineState("bramble"), &kept); !ok || err != nil || len(kept) != len(feeds) {
		t.Fatalf("of %d feeds the store knows %d: %v, %v", len(feeds), len(kept), ok, err)
	}
	// Put something wrong into the cache: it must be what the next answer uses.
	for id, b := range kept {
		b.HeightMM[store.Height] *= 2
		kept[id] = b
	}
	if err := d.Store.States.SetState(t.Context(), BaselineState("bramble"), kept); err != nil {
		t.Fatal(err)
	}
	if again := ask(); math.Abs(again.Ratio[100]-first.Ratio[100]/2) > 1e-9 {
		t.Errorf("the cache is not read: ratio %.3f, want half of %.3f", again.Ratio[100], first.Ratio[100])
	}
	last := feeds[len(feeds)-1]
	last.At = last.At.Add(-time.Minute)
	if err := d.Store.Journal.CorrectFeed(t.Context(), last); err != nil {
		t.Fatal(err)
	}
	n := len(first.Ratio) - 30
	if mended := ask(); math.Abs(mended.Ratio[n]/first.Ratio[n]-1) > 0.1 {
		t.Errorf("after the feed's hour was corrected the ratio is %.3f, want about %.3f", mended.Ratio[n], first.Ratio[n])
	}
}

// TestBaselinesAreLearnt finds the starts of feeds out before anybody asks for a
// curve: so many in a round, and none twice where nothing was read.
func TestBaselinesAreLearnt(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))
	p, v := &History{m: d}, d.Vessel("bramble")
	now := time.Now().Truncate(time.Minute)
	const feeds, blind = baselinesAtOnce + 30, 20 // the latest have no curve
	for i := range feeds + blind {
		at := now.Add(-time.Duration(feeds+blind-i) * time.Hour)
		if _, err := d.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: at}); err != nil {
			t.Fatal(err)
		}
		if i < feeds {
			d.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Height, At: at.Add(time.Minute), Value: 40})
		}
	}
	if err := d.Store.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	tried := map[int64]int64{}
	for round, want := range []int{baselinesAtOnce - blind, feeds, feeds} {
		p.learnSome(t.Context(), v, now, tried)
		var kept map[int64]baseline
		if _, err := d.Store.States.State(t.Context(), BaselineState("bramble"), &kept); err != nil || len(kept) != want {
			t.Errorf("round %d: %d feeds are known, want %d (%v)", round, len(kept), want, err)
		}
	}
	if len(tried) != feeds+blind {
		t.Errorf("%d feeds were looked up, want %d", len(tried), feeds+blind)
	}
}
