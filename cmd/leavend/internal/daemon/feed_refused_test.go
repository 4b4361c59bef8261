package daemon

import (
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// TestRefusedFeedIsToldOnce presses Fed while nothing can be stored: the curve
// begins again, and no surface shows a feed that the journal lacks, until a press
// is stored; then they hear once.
func TestRefusedFeedIsToldOnce(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))
	writes := d.Store
	defer func() { d.Store = writes; d.Close() }()
	heard := d.Hub.Listen("test")
	fed := func() (times int) {
		for _, it := range heard.Flush() {
			if it.Event != nil && it.Event.Kind == event.Fed {
				times++
			}
		}
		return times
	}
	now := time.Now().Truncate(time.Second)
	press := func(ago time.Duration) error {
		_, err := d.Fed(t.Context(), "bramble", store.Feed{At: now.Add(-ago)})
		return err
	}
	if err := press(9 * time.Minute); err != nil || fed() != 1 {
		t.Fatalf("a feed that is stored: %v, or not told once", err)
	}
	reads, _, err := store.Open(t.Context(), writes.Path(), store.Opts{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer reads.Close()
	d.Store = reads
	for i := range 5 {
		if err := press(5*time.Minute - time.Duration(i)*time.Minute); !errors.Is(err, store.ErrReadOnly) {
			t.Fatalf("press %d: %v, want that it is refused", i+1, err)
		}
	}
	if n := fed(); n != 0 {
		t.Errorf("%d feeds were told that the journal lacks", n)
	}
	mark := shown(d, d.Vessel("bramble").Conf.Slug).Feed
	if mark == nil || mark.At.Sub(now.Add(-time.Minute)).Abs() > time.Millisecond || mark.ID != "" || !mark.UndoUntil.IsZero() {
		t.Errorf("the curve begins with %+v, want one minute ago, and no way to take the feed before back", mark)
	}
	d.Store = writes
	if err := press(0); err != nil {
		t.Fatal(err)
	}
	if n := fed(); n != 1 {
		t.Errorf("the feed that was stored at last was told %d times", n)
	}
	if feeds, err := d.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"}); err != nil || len(feeds) != 2 {
		t.Errorf("%d feeds are stored, %v; want 2", len(feeds), err)
	}
}

// TestOneFeedOfTwoRequests sends the page's request for a feed twice, as a browser does
// whose line broke before the answer came, and then another by topic.
func TestOneFeedOfTwoRequests(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))
	defer d.Close()
	server, err := web.New(pageOf(d), web.Opts{Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	told := d.Hub.Listen("test")
	press := func() string {
		return askPage(t, server.Handler(), "POST", "/api/vessels/bramble/feeds", `{"kept_g":20,"water_g":50,"flours":[{"kind":"rye","grams":50}]}`)
	}
	first := press()
	if second := press(); !strings.Contains(first, ": 201\n") || strings.Split(second, `"undo_until"`)[0] != strings.Split(first, `"undo_until"`)[0] {
		t.Errorf("the second request is answered with\n%s\nand the first with\n%s", second, first)
	}
	if err := d.link.execute(mqtt.Command{Kind: mqtt.CommandFed, Subject: "bramble"}); err != nil {
		t.Error(err)
	}
	if feeds, err := d.Store.Journal.Feeds(t.Context(), store.Query{Vessel: "bramble"}); err != nil || len(feeds) != 1 {
		t.Errorf("%d feeds are stored, %v; want 1", len(feeds), err)
	}
	times := 0
	for _, it := range told.Flush() {
		if it.Event != nil && it.Event.Kind == event.Fed {
			times++
		}
	}
	if times != 1 {
		t.Errorf("the feed was told %d times", times)
	}
}
