package dbfile

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Mend checks the file at path. A damaged one is set aside and replaced by a
// new one with all that could be read, and with what the newest backup in a folder
// has beside that; the report says so.
func (s *Schema) Mend(ctx context.Context, path, backups string) (Report, error) {
	report := Report{Path: path, schema: s}
	fresh := path + freshEnd
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		// A crash between the two renames of swap leaves the new file, whole, under
		// its first name.
		if _, err := os.Stat(fresh); err != nil {
			return report, nil
		}
		if err := os.Rename(fresh, path); err != nil {
			return report, err
		}
	}
	if err := removeDB(fresh); err != nil {
		return report, err
	}
	h, known := s.readHead(path)
	damage := ""
	var err error
	if known && sameTables(path, h) {
		damage = wrongHead(path, h)
	}
	if damage == "" {
		damage, err = s.Inspect(ctx, path)
	}
	if err == nil && damage == "" {
		return report, nil
	}
	foreign := errors.Is(err, errForeign)
	known = known && (!foreign || sameTables(path, h))
	if err != nil && !(foreign && known) {
		return report, err
	}
	if err != nil {
		damage = err.Error()
	}
	report.Damage = damage
	return report, s.replace(ctx, foreign, known, h, backups, &report)
}

// replace puts in the place of a damaged file what can be had of it: a copy whose
// first page was put right, or a new file with all rows that can be read. A file
// that may be somebody else's stays.
func (s *Schema) replace(ctx context.Context, foreign, known bool, h head, backups string, report *Report) error {
	path, fresh, part := report.Path, report.Path+freshEnd, report.Path+".repair"
	defer removeDB(part)
	from := path
	var err error
	if known {
		if report.Repaired, err = s.repair(ctx, path, part, h); err == nil {
			from = part
		}
	}
	switch {
	case foreign && !report.Repaired:
		return errors.New(report.Damage)
	case !report.Repaired && !known && !looksOurs(path):
		return errors.New("this is no store of leavend's; choose another path")
	}
	if report.Repaired {
		err = renameDB(from, fresh)
	} else if err = s.salvage(ctx, from, fresh, backups, h, report); err != nil {
		removeDB(fresh)
		err = fmt.Errorf("it is damaged (%s), and saving what is left failed: %w", report.Damage, Full(err))
	}
	if err != nil {
		return err
	}
	if report.SetAside, err = setAside(path, "damaged"); err != nil {
		return err
	}
	if err := renameDB(fresh, path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// renameDB renames a database, its log first.
func renameDB(from, to string) error {
	if err := os.Rename(from+"-wal", to+"-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.Rename(from, to)
}
