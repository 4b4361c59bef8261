package dbfile

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/failure"
)

// Nightly backups stand in a folder under the day they were made:
// leavend-2026-11-25.db.
const (
	nightlyBegin = "leavend-"
	nightlyEnd   = ".db"
	nightlyDay   = "2006-01-02"
)

// Nightly writes the backup of a day into a folder, unless it is there
// already, and then removes the oldest beyond keep. Where there is no room the
// oldest go first, but only when that makes room enough: an old backup is worth
// less than today's, and more than none. Only files that bear the name of a
// day's backup, whole or begun, are ever removed. It returns the file.
func (c Source) Nightly(ctx context.Context, dir string, day time.Time, keep int, part *Part) (string, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("store: backup: %w", err)
	}
	file := filepath.Join(dir, nightlyBegin+day.Format(nightlyDay)+nightlyEnd)
	if _, err := os.Lstat(file); err == nil {
		return file, nil
	}
	if err := removeNights(dir, partEnd, 0); err != nil { // left by a power cut
		return "", err
	}
	err := c.Copy(ctx, file, part)
	if old, size, _ := oldest(dir, "", keep-1); errors.Is(err, failure.ErrFull) && len(old) > 0 && c.roomFor(ctx, file, size, part) == nil {
		if err := removeNights(dir, "", keep-1); err != nil {
			return "", err
		}
		err = c.Copy(ctx, file, part)
	}
	if err != nil {
		return "", err
	}
	return file, removeNights(dir, "", keep)
}

// NewestBackup returns the newest nightly backup in a folder.
func NewestBackup(dir string) (string, error) {
	names, err := Nights(dir)
	if err != nil {
		return "", fmt.Errorf("store: backups: %w", err)
	}
	if len(names) == 0 {
		return "", fmt.Errorf("store: there is no nightly backup in %s", dir)
	}
	return filepath.Join(dir, names[len(names)-1]), nil
}

// Nights returns the nightly backups in a folder, oldest first.
func Nights(dir string) ([]string, error) { return nights(dir, "") }

// nights returns those that have an ending behind their name.
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

// oldest returns the nightly backups beyond keep, and their size together; of
// whole ones at least one is kept always.
func oldest(dir, ending string, keep int) (files []string, size int64, err error) {
	all, err := nights(dir, ending)
	if ending == "" {
		keep = max(keep, 1)
	}
	for _, name := range all[:max(0, len(all)-keep)] {
		files = append(files, filepath.Join(dir, name))
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil {
			size += info.Size()
		}
	}
	return files, size, err
}

// removeNights removes the oldest nightly backups beyond keep.
func removeNights(dir, ending string, keep int) error {
	files, _, err := oldest(dir, ending, keep)
	if err := errors.Join(err, removeAll(files...)); err != nil {
		return fmt.Errorf("store: backup: %w", err)
	}
	return nil
}
