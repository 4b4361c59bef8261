package daemon

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// twoJars are two jars with one starter.
func twoJars(dir string) string {
	return strings.Replace(leavendtest.JarConfig(dir), "[mat]", `[[vessel]]
name = "Pilot"
starter = "Bramble"
distance = "eye2"
[[sensor]]
name = "eye2"
chip = "kitchen"
[mat]`, 1)
}

// knownOf is what counts for the starter in a jar: past feeds in the detector,
// in the ripening record's feeds, scored forecasts, feeds since the clean jar,
// and whether a feed is known at all.
type knownOf struct {
	History, Kin, Scored, SinceClean int
	Fed, Seen                        bool // in the record for plans; by the detector
}

func learnt(t *testing.T, d *Daemon, slug string) knownOf {
	t.Helper()
	p, v := pageOf(d), d.Vessel(slug)
	past, err := d.History(t.Context(), v)
	if err != nil {
		t.Fatal(err)
	}
	if got := v.Learnt(); got != len(past) {
		t.Errorf("%s: the detector learnt from %d feeds, the history tells of %d", slug, got, len(past))
	}
	record, err := monitor.ProfileOf(t.Context(), d.Store, d.Conf.Vessels, v.Conf)
	if err != nil {
		t.Fatal(err)
	}
	scored, err := p.History.Record(t.Context(), slug)
	if err != nil {
		t.Fatal(err)
	}
	book, err := p.Journal.Book(t.Context(), slug, d.Clock.Now().Add(time.Hour), 100)
	if err != nil {
		t.Fatal(err)
	}
	return knownOf{len(past), record.Model.Feeds(), len(scored.Rows), book.FeedsSinceWash, record.Fed, !v.Curve().FedAt.IsZero()}
}

func TestNewStarterBeginsAnew(t *testing.T) {
	dir := t.TempDir()
	d := openPast(t, twoJars(dir))
	defer func() { d.Close() }()
	p := pageOf(d)
	now := time.Now().Truncate(time.Second)
	for i := range 4 {
		leavendtest.PeakedFeed(t, d.Store, "bramble", now.Add(-time.Duration(5-i)*24*time.Hour))
		leavendtest.PeakedFeed(t, d.Store, "pilot", now.Add(-time.Duration(5-i)*24*time.Hour).Add(time.Hour))
	}
	last := leavendtest.PeakedFeed(t, d.Store, "bramble", now.Add(-24*time.Hour))
	again := func() { // as after a restart
		t.Helper()
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		d = openPast(t, twoJars(dir))
		p = pageOf(d)
	}
	again()
	want := func(when, slug string, w knownOf) {
		t.Helper()
		if got := learnt(t, d, slug); got != w {
			t.Errorf("%s, %s: %+v, want %+v", when, slug, got, w)
		}
	}
	all := knownOf{History: 9, Kin: 9, Scored: 5, SinceClean: 5, Fed: true, Seen: true}
	pilot := knownOf{History: 9, Kin: 9, Scored: 4, SinceClean: 4, Fed: true, Seen: true}
	want("before", "bramble", all)
	want("before", "pilot", pilot)

	// The last feed was the new one's first.
	made, err := p.Starters.NewStarter(t.Context(), "bramble", web.Starter{Feed: strconv.FormatInt(last.ID, 10), Note: "the old one was mouldy"})
	if err != nil || !made.At.Equal(last.At) {
		t.Fatalf("began at %v, %v; want %v", made.At, err, last.At)
	}
	first := knownOf{History: 1, Kin: 1, Scored: 1, SinceClean: 0, Fed: true, Seen: true}
	pilot.History, pilot.Kin = 8, 8
	want("with its feed", "bramble", first)
	again()
	want("after a restart", "bramble", first)
	want("after a restart", "pilot", pilot) // still of the old

	// All that was is shown, and where the new one begins.
	book, err := p.Journal.Book(t.Context(), "bramble", d.Clock.Now(), 100)
	if err != nil || len(book.Feeds) != 5 || len(book.Starters) != 1 || book.Starters[0].Note != "the old one was mouldy" {
		t.Fatalf("%d feeds and %+v in the journal, %v; want 5 and the new starter", len(book.Feeds), book.Starters, err)
	}
	for _, f := range book.Feeds {
		if f.Outcome.HoursToTop != 5 {
			t.Errorf("the feed of %v is shown with its peak after %v h, want 5", f.At, f.Outcome.HoursToTop)
		}
	}
	w, err := p.History.Window(t.Context(), "bramble", web.Span{From: now.Add(-6 * 24 * time.Hour), To: now, Max: 100})
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, m := range w.Marks {
		kinds[m.Kind]++
	}
	if kinds["starter"] != 1 || kinds["top"] != 5 {
		t.Errorf("the curve is marked with %v, want 1 new starter and 5 tops", kinds)
	}

	// The feed's hour is corrected, and the new one begins with it all the same.
	if _, err := p.Feeds.CorrectFeed(t.Context(), "bramble", strconv.FormatInt(last.ID, 10), web.Feed{At: last.At.Add(-20 * time.Minute)}); err != nil {
		t.Fatal(err)
	}
	if got := learnt(t, d, "bramble"); !got.Fed || !got.Seen || got.SinceClean != 0 {
		t.Errorf("with the feed's hour corrected: %+v", got)
	}

	// Another, from now on: nothing at all is known of it.
	second, err := p.Starters.NewStarter(t.Context(), "bramble", web.Starter{})
	if err != nil {
		t.Fatal(err)
	}
	want("from now on", "bramble", knownOf{})
	again()
	want("from now on, after a restart", "bramble", knownOf{})
	if out := shown(d, d.Vessel("bramble").Conf.Slug); out.Stage != web.Unfed {
		t.Errorf("the jar is shown as %v, want %v", out.Stage, web.Unfed)
	}
	// What is written down late of the one before is not the new one's.
	if _, err := d.Fed(t.Context(), "bramble", store.Feed{At: now.Add(-10 * time.Hour)}); err != nil {
		t.Fatal(err)
	}
	want("after a late word", "bramble", knownOf{})

	// Taken back, one after the other.
	for _, id := range []string{second.ID, made.ID} {
		if err := p.Starters.UndoStarter(t.Context(), "bramble", id); err != nil {
			t.Fatal(err)
		}
	}
	again()
	all.SinceClean = 6
	want("taken back", "bramble", all)
	if err := p.Starters.UndoStarter(t.Context(), "bramble", made.ID); err == nil {
		t.Error("a new starter was taken back twice")
	}
}

// TestNewStarterOfBothJars gives two jars of one starter a new one: they share
// what is learnt again.
func TestNewStarterOfBothJars(t *testing.T) {
	d := openPast(t, twoJars(t.TempDir()))
	defer d.Close()
	p := pageOf(d)
	now := time.Now().Truncate(time.Second)
	for _, slug := range []string{"bramble", "pilot"} {
		leavendtest.PeakedFeed(t, d.Store, slug, now.Add(-72*time.Hour))
		if _, err := d.Store.Journal.AddStarter(t.Context(), store.NewStarter{Vessel: slug, At: now.Add(-48 * time.Hour)}); err != nil {
			t.Fatal(err)
		}
		leavendtest.PeakedFeed(t, d.Store, slug, now.Add(-24*time.Hour))
	}
	for _, slug := range []string{"bramble", "pilot"} {
		if past, err := d.History(t.Context(), d.Vessel(slug)); err != nil || len(past) != 2 {
			t.Errorf("%s learns from %d feeds, %v; want its own and the other jar's", slug, len(past), err)
		}
	}
	if _, err := p.Starters.NewStarter(t.Context(), "shelf", web.Starter{}); err != failure.ErrUnknown {
		t.Errorf("a new starter in no jar: %v", err)
	}
}
