package main

import (
	"context"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// TestWhatTheDiskRefusedIsStoredLater hands on a top and a found feed while
// nothing can be stored. They are stored once there is room, each once, so that
// a restart does not tell the top again.
func TestWhatTheDiskRefusedIsStoredLater(t *testing.T) {
	d := openPast(t, jarConfig(t.TempDir()))
	writes := d.store
	defer func() { d.store = writes; d.close() }()
	reads, _, err := store.Open(t.Context(), writes.Path(), store.Opts{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer reads.Close()
	now := time.Now().Truncate(time.Second)
	told := []event.Event{
		{Kind: event.Fed, Subject: "bramble", At: now.Add(-6 * time.Hour), Detected: peak.Event{Source: store.Found, FeedAt: now.Add(-7 * time.Hour)}},
		{Kind: event.Peak, Subject: "bramble", At: now, Detected: peak.Event{PeakAt: now}},
	}
	d.store = reads
	for i := range told {
		d.keep(item{Event: &told[i]})
	}
	tick := func() { d.keep(item{Status: &sample{Vessel: "bramble", At: now}}) }
	tick()
	stored := func() (events, feeds int) {
		t.Helper()
		all, err := writes.Events(t.Context(), store.Query{Vessel: "bramble"})
		if err != nil {
			t.Fatal(err)
		}
		fed, err := writes.Feeds(t.Context(), store.Query{Vessel: "bramble"})
		if err != nil {
			t.Fatal(err)
		}
		return len(all), len(fed)
	}
	if events, feeds := stored(); events != 0 || feeds != 0 {
		t.Fatalf("%d events and %d feeds are stored where nothing could be", events, feeds)
	}
	d.store = writes
	for range 3 {
		tick()
		if events, feeds := stored(); events != 2 || feeds != 1 {
			t.Errorf("with room again %d events and %d feeds are stored, want 2 and 1", events, feeds)
		}
	}
	if n := len(d.backlog.owed); n != 0 {
		t.Errorf("%d writes still wait", n)
	}
}

// TestBacklogGoesRoundWhatNeverWorks has one write that fails for ever: the
// others are done all the same, and the backlog does not grow without bound.
func TestBacklogGoesRoundWhatNeverWorks(t *testing.T) {
	var b backlog
	full, done := true, 0
	for i := range backlogBound + 10 {
		_ = b.try(t.Context(), owed{"", func(context.Context) error {
			if full || i == backlogBound {
				return store.ErrFull
			}
			done++
			return nil
		}})
	}
	if len(b.owed) != backlogBound {
		t.Fatalf("%d writes wait, want %d", len(b.owed), backlogBound)
	}
	full = false
	for range 3 {
		b.pay(t.Context())
	}
	if done != backlogBound-1 || len(b.owed) != 1 {
		t.Errorf("%d writes were done and %d wait; want all but the one that never works", done, len(b.owed))
	}
}
