package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Nightly backups stand in a folder under the day they were made:
// leavend-2026-11-25.db.
const (
	nightlyBegin = "leavend-"
	nightlyEnd   = ".db"
	nightlyDay   = "2006-01-02"
)

// BackupOpts are the choices of a nightly backup.
type BackupOpts struct {
	Keep  int  // nights that stay; at least one
	Small bool // readings at full rate of the last days only; rollups and all else whole
}

// BackupDay writes the backup of a day into a folder, unless it is there
// already, and then removes the oldest beyond keep. Where there is no room the
// oldest go first, but only when that makes room enough: an old backup is worth
// less than today's, and more than none. Only files that bear the name of a
// day's backup, whole or begun, are ever removed. It returns the file.
func (s *Copies) BackupDay(ctx context.Context, dir string, day time.Time, o BackupOpts) (string, error) {
	keep := o.Keep
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("store: backup: %w", err)
	}
	file := filepath.Join(dir, nightlyBegin+day.Format(nightlyDay)+nightlyEnd)
	if _, err := os.Lstat(file); err == nil {
		return file, nil
	}
	if err := removeNights(dir, partEnd, 0); err != nil { // left by a power cut
		return "", fmt.Errorf("store: backup: %w", err)
	}
	err := s.copyTo(ctx, file, o.Small)
	if errors.Is(err, ErrFull) {
		old, size := oldest(dir, keep-1)
		if len(old) > 0 && s.roomFor(ctx, file, size, o.Small) == nil {
			if err := removeNights(dir, "", keep-1); err != nil {
				return "", fmt.Errorf("store: backup: %w", err)
			}
			err = s.copyTo(ctx, file, o.Small)
		}
	}
	if err != nil {
		return "", err
	}
	if err := removeNights(dir, "", keep); err != nil {
		return "", fmt.Errorf("store: backup: %w", err)
	}
	return file, nil
}

// nights returns the nightly backups in a folder, oldest first; with an ending,
// those that have it behind their name.
func nights(dir, ending string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		text, ours := strings.CutSuffix(e.Name(), nightlyEnd+ending)
		text, begins := strings.CutPrefix(text, nightlyBegin)
		if _, err := time.Parse(nightlyDay, text); err == nil && ours && begins && e.Type().IsRegular() {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	return names, nil
}

// removeNights removes the oldest nightly backups beyond keep; of whole ones at
// least one is kept always.
func removeNights(dir, ending string, keep int) error {
	names, err := nights(dir, ending)
	if ending == "" {
		keep = max(keep, 1)
	}
	errs := []error{err}
	for len(names) > keep {
		errs = append(errs, os.Remove(filepath.Join(dir, names[0])))
		names = names[1:]
	}
	return errors.Join(errs...)
}

// oldest returns the nightly backups that removeNights would remove, and their
// size together.
func oldest(dir string, keep int) (names []string, size int64) {
	all, err := nights(dir, "")
	if err != nil {
		return nil, 0
	}
	names = all[:max(0, len(all)-max(keep, 1))]
	for _, name := range names {
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil {
			size += info.Size()
		}
	}
	return names, size
}
