package dbfile

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Restore puts a backup in the place of the file at path. The backup is
// checked and copied first; only then is the present file set aside, under
// the name that is returned ("" when there was none). A file in use gives an
// [InUseError], and nothing is changed. The backup itself stays as it is.
func (s *Schema) Restore(ctx context.Context, path, backup string) (aside string, err error) {
	if same(path, backup) {
		return "", fmt.Errorf("store: restore: %s is the store itself", backup)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return "", fmt.Errorf("store: restore: %w", err)
	}
	held, err := Lock(path)
	if err != nil {
		return "", err
	}
	defer held.Close()
	defer func() {
		if err != nil {
			err = fmt.Errorf("store: restore %s: %w", backup, Full(err))
		}
	}()
	fresh := path + freshEnd
	err = s.copySound(ctx, backup, fresh)
	if err == nil { // run by root, it must leave a file that the service may use
		err = errors.Join(ownAs(path, fresh), ownAs(path, path+".lock"), removeAll(path+headEnd))
	}
	if err != nil {
		removeDB(fresh)
		return "", err
	}
	if aside, err = setAside(path, "before"); err != nil {
		return aside, err
	}
	if err := os.Rename(fresh, path); err != nil {
		return aside, err
	}
	return aside, syncDir(filepath.Dir(path))
}

// copySound writes a checked copy of a backup. What a backup's own log still
// holds is in it too.
func (s *Schema) copySound(ctx context.Context, backup, to string) error {
	info, err := os.Stat(backup)
	if err != nil {
		return err
	}
	if info.Size() == 0 {
		return errors.New("it is empty")
	}
	if found, err := s.Inspect(ctx, backup); err != nil {
		return err
	} else if found != "" {
		return fmt.Errorf("it is damaged (%s); nothing was changed", found)
	}
	if err := removeDB(to); err != nil {
		return err
	}
	db := Connect(backup, 1, "query_only(0)")
	defer db.Close()
	version, err := s.Identify(ctx, db)
	if err != nil {
		return err
	}
	if version == 0 {
		return errors.New("it is no store of leavend's")
	}
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, to); err != nil {
		return err
	}
	return s.sound(ctx, to)
}

// sound sees that a copy is whole, and flushes it to the disk.
func (s *Schema) sound(ctx context.Context, file string) error {
	found, err := s.Inspect(ctx, file)
	if err == nil && found != "" {
		err = fmt.Errorf("the copy is damaged: %s", found)
	}
	if err != nil {
		return err
	}
	return syncFile(file)
}
