package daemon

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
)

// A jar is twice in the fridge between two feeds; the second feed knows for how
// long, also after a restart, and the third knows of none.
func TestFeedKnowsTheFridge(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	if err := d.OpenKept(t.Context()); err != nil {
		t.Fatal(err)
	}
	p := pageOf(d)
	begin := d.Clock.Now()
	at := func(h float64) {
		d.Clock.Advance(begin.Add(time.Duration(h * float64(time.Hour))).Sub(d.Clock.Now()))
	}
	chill := func(in bool) {
		t.Helper()
		if err := p.Fridge.Chill(t.Context(), "bramble", in); err != nil {
			t.Fatal(err)
		}
	}
	fed := func() float64 {
		t.Helper()
		f, err := d.Fed(t.Context(), "bramble", store.Feed{})
		if err != nil {
			t.Fatal(err)
		}
		return f.ChilledH
	}
	at(0)
	fed()
	at(2)
	chill(true)
	at(12)
	chill(false)
	at(13)
	chill(true)
	if err := d.OpenKept(t.Context()); err != nil {
		t.Fatal(err)
	}
	at(60)
	if got := fed(); math.Abs(got-57) > 0.01 {
		t.Errorf("10 and 47 hours in the fridge, and the feed says %g", got)
	}
	feeds, err := d.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"})
	if err != nil {
		t.Fatal(err)
	}
	got := monitor.FeedAt(feeds, feeds[0].At)
	if got.Chilled.Round(time.Minute) != 57*time.Hour || got.Rested.Round(time.Minute) != 60*time.Hour {
		t.Errorf("the model is told of %v chilled of %v", got.Chilled, got.Rested)
	}
	at(84)
	if got := fed(); got != 0 {
		t.Errorf("out of the fridge since the feed before, and the feed says %g", got)
	}
}
