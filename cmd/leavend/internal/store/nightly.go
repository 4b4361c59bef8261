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

// BackupDay writes the backup of a day into a folder, unless it is there
// already, and then removes the oldest beyond keep. Only files that bear the
// name of a day's backup are ever removed. It returns the file.
func (s *Store) BackupDay(ctx context.Context, dir string, day time.Time, keep int) (string, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("store: backup: %w", err)
	}
	file := filepath.Join(dir, nightlyBegin+day.Format(nightlyDay)+nightlyEnd)
	if _, err := os.Lstat(file); err == nil {
		return file, nil
	}
	// Room first: an old backup is worth less than today's.
	if err := pruneBackups(dir, keep-1); err != nil {
		return "", fmt.Errorf("store: backup: %w", err)
	}
	return file, s.Backup(ctx, file)
}

// pruneBackups removes the oldest days' backups beyond keep; at least one is
// kept always.
func pruneBackups(dir string, keep int) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var days []string
	for _, e := range entries {
		text, isDB := strings.CutSuffix(strings.TrimPrefix(e.Name(), nightlyBegin), nightlyEnd)
		if _, err := time.Parse(nightlyDay, text); err == nil && isDB && strings.HasPrefix(e.Name(), nightlyBegin) && e.Type().IsRegular() {
			days = append(days, e.Name())
		}
	}
	slices.Sort(days)
	var errs []error
	for len(days) > max(keep, 1) {
		errs = append(errs, os.Remove(filepath.Join(dir, days[0])))
		days = days[1:]
	}
	return errors.Join(errs...)
}
