package daemon

import (
	"context"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
)

// TestNightlyBackups follows the loop through nights of virtual time: a backup
// at its hour and once a night, the oldest making room; a disk that takes none
// is told once, costs no older backup, and is tried again until it does.
func TestNightlyBackups(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "backups")
	file := filepath.Join(t.TempDir(), "leavend.db")
	synctest.Test(t, func(t *testing.T) {
		s, _, err := store.Open(t.Context(), file, store.Opts{Clock: store.SteadyClock(time.Now, "boot")})
		if err != nil {
			t.Fatal(err)
		}
		h := &monitor.Hub{}
		d := &Daemon{Monitor: &monitor.Monitor{
			Conf:  &config.Config{Timezone: time.FixedZone("kitchen", 2*60*60), Store: config.Store{BackupDir: dir, BackupsKept: 3, BackupWhole: true}},
			Clock: event.NewClock(time.Now(), 1), Alarms: event.NewAlarms(text.Reader{}, h.Event), Store: s, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		}}
		heard := h.Listen("test")
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- d.backUpNightly(ctx) }()
		// Virtual time begins at midnight UTC, two o'clock in this kitchen.
		until := func(day, hour, minute int) {
			t.Helper()
			time.Sleep(time.Until(time.Date(2000, 1, day, hour-2, minute, 30, 0, time.UTC)))
			synctest.Wait()
		}
		kept := func(want ...string) {
			t.Helper()
			var names []string
			entries, _ := os.ReadDir(dir)
			for _, e := range entries {
				names = append(names, e.Name())
			}
			if !slices.Equal(names, want) {
				t.Errorf("at %v the folder holds %v, want %v", time.Now().In(d.Conf.Timezone), names, want)
			}
		}
		told := func(want ...event.Kind) {
			t.Helper()
			var kinds []event.Kind
			for _, it := range heard.Flush() {
				kinds = append(kinds, it.Event.Kind)
			}
			if !slices.Equal(kinds, want) {
				t.Errorf("at %v the baker was told %v, want %v", time.Now().In(d.Conf.Timezone), kinds, want)
			}
		}
		const first, second, third, fourth, sixth = "leavend-2000-01-01.db", "leavend-2000-01-02.db", "leavend-2000-01-03.db", "leavend-2000-01-04.db", "leavend-2000-01-06.db"

		until(1, 2, 50)
		kept()
		until(1, 3, 10)
		kept(first)
		until(3, 3, 10)
		kept(first, second, third)
		until(4, 3, 10)
		kept(second, third, fourth)
		told()

		// Somebody pulls the disk out; its place is no folder any more.
		away := dir + "-away"
		move(t, dir, away)
		if err := os.WriteFile(dir, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		until(6, 3, 40)
		told(event.AlarmRaised)
		if err := os.Remove(dir); err != nil {
			t.Fatal(err)
		}
		move(t, away, dir)
		kept(second, third, fourth)
		until(6, 4, 0)
		kept(third, fourth, sixth)
		told(event.AlarmCleared)

		again, _, err := store.Open(t.Context(), filepath.Join(dir, sixth), store.Opts{ReadOnly: true})
		if err != nil {
			t.Fatal("the backup does not open:", err)
		}
		if err := again.Close(); err != nil {
			t.Error(err)
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
}

func move(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}
