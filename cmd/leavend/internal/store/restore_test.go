package store

import (
	"errors"
	"leavend/cmd/leavend/internal/store/dbfile"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
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
		if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "bramble", At: time.Now().Add(time.Duration(minutes-60) * time.Minute)}); err != nil {
			t.Fatal(err)
		}
	}
	add(1)
	if err := s.Copies.Backup(ctx, copied); err != nil {
		t.Fatal(err)
	}
	add(2)
	var inUse *dbfile.InUseError
	if _, err := Restore(ctx, path, copied); !errors.As(err, &inUse) {
		t.Errorf("while it is open: %v, want an dbfile.InUseError", err)
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
		if feeds, err := one.Journal.Feeds(ctx, Query{}); err != nil || len(feeds) != want {
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
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "bramble", At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	good := filepath.Join(dir, "good.db")
	if err := s.Copies.Backup(ctx, good); err != nil {
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
	if feeds, _ := again.Journal.Feeds(ctx, Query{}); len(feeds) != 1 {
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
			if _, err := s.Copies.BackupDay(ctx, dir, first.AddDate(0, 0, d), BackupOpts{Keep: 3}); err != nil {
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

// TestFileRemovedWhileRunning takes the file away under an open store: nothing
// is acknowledged that the process would take with it, and all is stored once
// the file is back.
func TestFileRemovedWhileRunning(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	if s.Removed() {
		t.Fatal("it is there, and said to be removed")
	}
	away := s.Path() + ".away"
	if err := os.Rename(s.Path(), away); err != nil {
		t.Fatal(err)
	}
	if !s.Removed() {
		t.Error("it is not noticed")
	}
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); !errors.Is(err, ErrRemoved) {
		t.Errorf("a feed: %v", err)
	}
	s.Readings.Add(Reading{"Bramble", Distance, w.Now(), 100})
	if err := s.Readings.Flush(ctx); !errors.Is(err, ErrRemoved) || s.Stats().Buffered != 1 {
		t.Errorf("a reading: %v, %+v", err, s.Stats())
	}
	if err := os.WriteFile(s.Path(), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if !s.Removed() {
		t.Error("another file in its place is taken for it")
	}
	if err := os.Rename(away, s.Path()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Errorf("once it is back: %v", err)
	}
	if err := s.Readings.Flush(ctx); err != nil || s.Stats().Buffered != 0 {
		t.Errorf("once it is back: %v, %+v", err, s.Stats())
	}
}

// TestModesAndOwners makes a store under a careless umask, opens one that others
// may read, and restores one that belongs to a service.
func TestModesAndOwners(t *testing.T) {
	old := syscall.Umask(0o022)
	defer syscall.Umask(old)
	w := newHandClock()
	path, _, _ := wholeStore(t, w)
	mode := func(name string) os.FileMode {
		t.Helper()
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		return info.Mode().Perm()
	}
	for _, name := range []string{path, path + ".lock", path + ".head"} {
		if m := mode(name); m != 0o600 {
			t.Errorf("%s has mode %o", filepath.Base(name), m)
		}
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	s := reopen(t, path, w)
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := s.Copies.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, path + "-wal", backup} {
		if m := mode(name); m != 0o600 {
			t.Errorf("%s has mode %o", filepath.Base(name), m)
		}
	}
	s.Close()
	root := os.Geteuid() == 0
	if root {
		for _, name := range []string{path, path + ".lock"} {
			if err := os.Chown(name, 4242, 4243); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), path, backup); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o640 {
		t.Errorf("restored: %v, %v", info.Mode(), err)
	}
	if owner := info.Sys().(*syscall.Stat_t); root && (owner.Uid != 4242 || owner.Gid != 4243) {
		t.Errorf("restored, it belongs to %d:%d", owner.Uid, owner.Gid)
	}
}
