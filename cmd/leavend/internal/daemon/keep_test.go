package daemon

import (
	"context"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// refusing is a store's log that writes only while by, of a store that may only
// read, is nil.
type refusing struct {
	*store.EventLog
	by *store.EventLog
}

func (r *refusing) SaveLog(ctx context.Context, c event.Saved) error {
	if r.by != nil {
		return r.by.SaveLog(ctx, c)
	}
	return r.EventLog.SaveLog(ctx, c)
}

// TestWhatTheDiskRefusedIsStoredLater hands on a top and a found feed while
// nothing can be stored. They are stored once there is room, each once, so that
// a restart does not tell the top again.
func TestWhatTheDiskRefusedIsStoredLater(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))
	defer d.Close()
	reads, _, err := store.Open(t.Context(), d.Store.Path(), store.Opts{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer reads.Close()
	disk := &refusing{EventLog: d.Store.EventLog, by: reads.EventLog}
	if d.Events, err = event.OpenLog(t.Context(), disk); err != nil {
		t.Fatal(err)
	}
	now := time.Now().Truncate(time.Second)
	told := []event.Event{
		{Kind: event.Fed, Subject: "bramble", At: now.Add(-6 * time.Hour), Detected: peak.Event{Source: store.Found, FeedAt: now.Add(-7 * time.Hour)}},
		{Kind: event.Peak, Subject: "bramble", At: now, Detected: peak.Event{PeakAt: now}},
	}
	for i := range told {
		d.Save(monitor.Item{Event: &told[i]})
	}
	tick := func() { d.Save(monitor.Item{Status: &monitor.Sample{Vessel: "bramble", At: now}}) }
	tick()
	stored := func() (events, feeds int) {
		t.Helper()
		all, err := d.Store.Journal.Events(t.Context(), store.Query{Vessel: "bramble"})
		if err != nil {
			t.Fatal(err)
		}
		fed, err := d.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"})
		if err != nil {
			t.Fatal(err)
		}
		return len(all), len(fed)
	}
	if events, feeds := stored(); events != 0 || feeds != 0 {
		t.Fatalf("%d events and %d feeds are stored where nothing could be", events, feeds)
	}
	disk.by = nil
	for range 3 {
		tick()
		if events, feeds := stored(); events != 2 || feeds != 1 {
			t.Errorf("with room again %d events and %d feeds are stored, want 2 and 1", events, feeds)
		}
	}
}
