package store

import (
	"flag"
	"leavend/cmd/leavend/internal/store/dbfile"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A small backup holds everything but readings at full rate of long ago, and
// opens as a store.
func TestSmallBackup(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	s.Readings.blockMS = minuteMS
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Fatal(err)
	}
	l, _, _ := openLog(t, s)
	if err := l.Commit(ctx, peaked(w, 1)); err != nil {
		t.Fatal(err)
	}
	old := fill(s, w, "Bramble", 3000)
	flush(t, s)
	w.pass(20 * 24 * time.Hour)
	lately := fill(s, w, "Bramble", 3000)
	flush(t, s)
	dir := t.TempDir()
	file, err := s.Copies.BackupDay(ctx, dir, w.Now(), BackupOpts{Keep: 2, Small: true})
	if err != nil {
		t.Fatal(err)
	}
	if newest, err := dbfile.NewestBackup(dir); err != nil || newest != file {
		t.Errorf("the newest backup is %s, %v", newest, err)
	}
	path := filepath.Join(t.TempDir(), "leavend.db")
	if _, err := Restore(ctx, path, file); err != nil {
		t.Fatal(err)
	}
	b := reopen(t, path, w)
	defer b.Close()
	if got := readings(t, b, "Bramble", time.UnixMilli(0)); len(got) != len(lately) {
		t.Errorf("%d readings, want the %d of the last days", len(got), len(lately))
	}
	win, err := b.Readings.Window(ctx, "Bramble", epoch, epoch.AddDate(0, 0, 40), 2000)
	n := 0
	for _, p := range win.Points {
		for _, st := range p.Stats {
			n += st.N
		}
	}
	// The page that was still open when the backup was made is worked out again.
	if err != nil || n != len(old)+len(lately) {
		t.Errorf("the rollups sum up %d readings of %d, %v", n, len(old)+len(lately), err)
	}
	if feeds, err := b.Journal.Feeds(ctx, Query{}); err != nil || len(feeds) != 1 {
		t.Errorf("%d feeds, %v", len(feeds), err)
	}
	if events, err := b.Journal.Events(ctx, Query{}); err != nil || len(events) != 1 {
		t.Errorf("%d events, %v", len(events), err)
	}
}

var measured = flag.String("measure", "", "store that TestMeasure measures, such as BenchmarkYear makes")

// TestMeasure says how long a store takes to open and to check, and how large its
// backups are.
func TestMeasure(t *testing.T) {
	if *measured == "" {
		t.Skip("measures the store that -measure names")
	}
	took := func(what string, f func() error) {
		t.Helper()
		began := time.Now()
		if err := f(); err != nil {
			t.Fatal(what, err)
		}
		t.Logf("%s: %v", what, time.Since(began).Round(10*time.Millisecond))
	}
	size := func(name string) {
		t.Helper()
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %.1f MB", filepath.Base(name), float64(info.Size())/1e6)
	}
	size(*measured)
	w := newHandClock()
	w.pass(time.Duration(*yearDays) * 24 * time.Hour)
	var s *Store
	took("open", func() (err error) { s, _, err = Open(t.Context(), *measured, Opts{Clock: w}); return err })
	defer s.Close()
	took("verify each row", func() error { _, err := s.Copies.Verify(t.Context(), func(b BadRow) { t.Error(b) }); return err })
	for name, small := range map[string]bool{"small": true, "whole": false} {
		took(name, func() error {
			file, err := s.Copies.BackupDay(t.Context(), t.TempDir(), w.Now(), BackupOpts{Keep: 1, Small: small})
			size(file)
			return err
		})
	}
}
