package store

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestRestore goes back to a backup: what was fed since is gone from the store
// and stands in the file that was set aside.
func TestRestore(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	path, copied := filepath.Join(dir, "leavend.db"), filepath.Join(dir, "copy.db")
	s, _, err := Open(ctx, path, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	add := func(minutes int) {
		t.Helper()
		if _, err := s.AddFeed(ctx, Feed{Vessel: "bramble", At: time.Now().Add(time.Duration(minutes-60) * time.Minute)}); err != nil {
			t.Fatal(err)
		}
	}
	add(1)
	if err := s.Backup(ctx, copied); err != nil {
		t.Fatal(err)
	}
	add(2)
	var inUse *InUseError
	if _, err := Restore(ctx, path, copied); !errors.As(err, &inUse) {
		t.Errorf("while it is open: %v, want an InUseError", err)
	}
	s.Close()
	aside, err := Restore(ctx, path, copied)
	if err != nil || !strings.Contains(aside, "leavend.db.before-") {
		t.Fatalf("set aside as %q, %v", aside, err)
	}
	for file, want := range map[string]int{path: 1, aside: 2, copied: 1} {
		one, report, err := Open(ctx, file, Opts{})
		if err != nil || !report.OK() {
			t.Fatalf("%s: %v, %v", file, report, err)
		}
		if feeds, err := one.Feeds(ctx, Query{}); err != nil || len(feeds) != want {
			t.Errorf("%s has %d feeds (%v), want %d", file, len(feeds), err, want)
		}
		one.Close()
	}
}

// TestRestoreRefuses leaves the store as it is when the backup is no good.
func TestRestoreRefuses(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	path := filepath.Join(dir, "leavend.db")
	s, _, err := Open(ctx, path, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.AddFeed(ctx, Feed{Vessel: "bramble", At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	good := filepath.Join(dir, "good.db")
	if err := s.Backup(ctx, good); err != nil {
		t.Fatal(err)
	}
	s.Close()
	bytes, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, b []byte) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	broken := slices.Clone(bytes)
	for i := 4096; i < len(broken)-4096; i += 7 {
		broken[i] ^= 0x5a
	}
	for name, file := range map[string]string{
		"not there": filepath.Join(dir, "none.db"), "empty": write("empty.db", nil), "a text": write("notes.txt", []byte("flour: 500 g\n")),
		"cut short": write("short.db", bytes[:len(bytes)/2]), "broken": write("broken.db", broken), "the store itself": path,
	} {
		if aside, err := Restore(ctx, path, file); err == nil || aside != "" {
			t.Errorf("%s was restored, %q set aside", name, aside)
		}
	}
	again, report, err := Open(ctx, path, Opts{})
	if err != nil || !report.OK() {
		t.Fatalf("%v, %v", report, err)
	}
	defer again.Close()
	if feeds, _ := again.Feeds(ctx, Query{}); len(feeds) != 1 {
		t.Errorf("%d feeds are left, want 1", len(feeds))
	}
	if _, err := os.Stat(path + ".new"); err == nil {
		t.Error("a half copy was left")
	}
}

// TestBackupDay keeps so many days and touches nothing else in the folder.
func TestBackupDay(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	s, _, err := Open(ctx, filepath.Join(t.TempDir(), "leavend.db"), Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	other := filepath.Join(dir, "leavend-of-old.db")
	if err := os.WriteFile(other, []byte("dear"), 0o600); err != nil {
		t.Fatal(err)
	}
	first := time.Date(2026, 11, 20, 3, 0, 0, 0, time.UTC)
	for d := range 6 {
		for range 2 { // twice a day is once
			if _, err := s.BackupDay(ctx, dir, first.AddDate(0, 0, d), 3); err != nil {
				t.Fatal(err)
			}
		}
	}
	names, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range names {
		names[i] = filepath.Base(names[i])
	}
	if want := []string{"leavend-2026-11-23.db", "leavend-2026-11-24.db", "leavend-2026-11-25.db", "leavend-of-old.db"}; !slices.Equal(names, want) {
		t.Errorf("the folder holds %v, want %v", names, want)
	}
}
