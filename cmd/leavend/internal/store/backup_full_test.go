//go:build linux

package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/failure"
)

// smallDisk mounts a file system of its own, where the system lets the test.
func smallDisk(t *testing.T, size int) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "disk")
	unmount, err := mountSmall(dir, size)
	if err != nil {
		t.Skip("cannot mount a small file system here:", err)
	}
	t.Cleanup(unmount)
	return dir
}

// names are what stands in a folder.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// TestBackupOntoAFullDisk makes backups on a disk of their own that has no room
// for one more: it is said, nothing half stands there, the old ones stay, and
// the store goes on.
func TestBackupOntoAFullDisk(t *testing.T) {
	ctx, disk := t.Context(), smallDisk(t, 1<<20)
	s, w := newTestStore(t)
	grow(t, s, w, 400<<10)
	day := epoch
	var kept []string
	for range 2 {
		if _, err := s.Copies.BackupDay(ctx, disk, day, BackupOpts{Keep: 7}); err != nil {
			t.Fatal(err)
		}
		day = day.AddDate(0, 0, 1)
	}
	kept = names(t, disk)
	for range 3 { // it is tried again every quarter of an hour
		_, err := s.Copies.BackupDay(ctx, disk, day, BackupOpts{Keep: 7})
		if !errors.Is(err, failure.ErrFull) || !strings.Contains(err.Error(), "are free") {
			t.Fatalf("with room for half a backup: %v", err)
		}
	}
	if err := s.Copies.Backup(ctx, filepath.Join(disk, "mine.db")); !errors.Is(err, failure.ErrFull) {
		t.Errorf("one by hand: %v", err)
	}
	if now := names(t, disk); !slices.Equal(now, kept) {
		t.Errorf("after backups that failed there are %v, before %v", now, kept)
	}
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Error("a feed after it:", err)
	}
	// Where today's would be one too many, the oldest makes room for it.
	file, err := s.Copies.BackupDay(ctx, disk, day, BackupOpts{Keep: 2})
	if err != nil || !slices.Equal(names(t, disk), []string{kept[1], filepath.Base(file)}) {
		t.Errorf("with the oldest in the way: %v, %v", names(t, disk), err)
	}
	// But it is not given up for nothing.
	grow(t, s, w, 1<<20)
	kept = names(t, disk)
	if _, err := s.Copies.BackupDay(ctx, disk, day.AddDate(0, 0, 1), BackupOpts{Keep: 2}); !errors.Is(err, failure.ErrFull) || !slices.Equal(names(t, disk), kept) {
		t.Errorf("of a store larger than the disk: %v, and there are %v of %v", err, names(t, disk), kept)
	}
}

// TestBackupLeavesTheStoreItsRoom makes a backup on the store's own disk, where
// it fits but would leave nothing: readings and feeds come first.
func TestBackupLeavesTheStoreItsRoom(t *testing.T) {
	ctx, disk := t.Context(), smallDisk(t, 2<<20)
	w := newHandClock()
	s := reopen(t, filepath.Join(disk, "x.db"), w)
	defer s.Close()
	grow(t, s, w, 200<<10)
	before := names(t, disk)
	if err := s.Copies.Backup(ctx, filepath.Join(disk, "copy.db")); !errors.Is(err, failure.ErrFull) || !strings.Contains(err.Error(), "the store itself needs") {
		t.Errorf("backup: %v", err)
	}
	if now := names(t, disk); !slices.Equal(now, before) {
		t.Errorf("there are %v, before %v", now, before)
	}
	if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Error("a feed after it:", err)
	}
	if err := s.Copies.Backup(ctx, filepath.Join(t.TempDir(), "copy.db")); err != nil {
		t.Error("elsewhere:", err)
	}
}

// cutAt is where the system cuts a file that the child process writes.
const cutAt = 128 << 10

// TestBackupCutShort has the room end in mid-copy, which nothing foretold: a
// child process may write no file beyond a size.
func TestBackupCutShort(t *testing.T) {
	s, w := newTestStore(t)
	grow(t, s, w, 2*cutAt)
	dir := t.TempDir()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_CUT="+s.Path(), "STORE_CUT_TO="+dir)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "the disk is full") {
		t.Fatalf("the backup: %v, %s", err, out)
	}
	if left := names(t, dir); len(left) != 0 {
		t.Errorf("it left %v", left)
	}
	if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Error("a feed after it:", err)
	}
}

// backUpCut is the child of TestBackupCutShort.
func backUpCut(path string) error {
	signal.Ignore(syscall.SIGXFSZ) // so that the write fails instead
	s, _, err := Open(context.Background(), path, Opts{ReadOnly: true})
	if err != nil {
		return err
	}
	defer s.Close()
	if err := unix.Setrlimit(unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: cutAt, Max: cutAt}); err != nil {
		return err
	}
	_, err = s.Copies.BackupDay(context.Background(), os.Getenv("STORE_CUT_TO"), epoch, BackupOpts{Keep: 7})
	if !errors.Is(err, failure.ErrFull) {
		return fmt.Errorf("it ended with %w", err)
	}
	fmt.Println(err)
	return nil
}

// TestBackupClearsWhatPowerCutsLeft begins with the rest of another night.
func TestBackupClearsWhatPowerCutsLeft(t *testing.T) {
	s, _ := newTestStore(t)
	dir := t.TempDir()
	for _, name := range []string{"leavend-2026-11-01.db.part", "holiday.db.part"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Copies.BackupDay(t.Context(), dir, time.Date(2026, 11, 3, 3, 0, 0, 0, time.UTC), BackupOpts{Keep: 7}); err != nil {
		t.Fatal(err)
	}
	if got, want := names(t, dir), []string{"holiday.db.part", "leavend-2026-11-03.db"}; !slices.Equal(got, want) {
		t.Errorf("there are %v, want %v", got, want)
	}
}

// grow adds feeds until the store's file has a size.
func grow(t *testing.T, s *Store, w *handClock, size int64) {
	t.Helper()
	note := strings.Repeat("a note of some length, to fill the file; ", 200)
	for {
		var have int64
		if err := s.file.r.QueryRow(`SELECT page_count * page_size FROM pragma_page_count, pragma_page_size`).Scan(&have); err != nil {
			t.Fatal(err)
		}
		if have >= size {
			return
		}
		if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now(), Note: note}); err != nil {
			t.Fatal(err)
		}
	}
}
