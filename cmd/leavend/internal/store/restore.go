package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Restore puts a backup in the place of the store at path. The backup is
// checked and copied first; only then is the present store set aside, under
// the name that is returned ("" when there was none). A store in use gives an
// [InUseError], and nothing is changed. The backup itself stays as it is.
func Restore(ctx context.Context, path, backup string) (aside string, err error) {
	if same(path, backup) {
		return "", fmt.Errorf("store: restore: %s is the store itself", backup)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return "", fmt.Errorf("store: restore: %w", err)
	}
	held, err := lock(path)
	if err != nil {
		return "", err
	}
	defer held.Close()
	fresh := path + ".new"
	err = copySound(ctx, backup, fresh)
	if err == nil { // run by root, it must leave a file that the service may use
		err = errors.Join(ownAs(path, fresh), ownAs(path, path+".lock"), removeAll(path+headEnd))
	}
	if err != nil {
		removeAll(fresh, fresh+"-wal", fresh+"-shm")
		return "", fmt.Errorf("store: restore %s: %w", backup, full(err))
	}
	if aside, err = setAside(path, "before"); err != nil {
		return aside, fmt.Errorf("store: restore %s: %w", backup, err)
	}
	if err := os.Rename(fresh, path); err != nil {
		return aside, fmt.Errorf("store: restore %s: %w", backup, err)
	}
	return aside, syncDir(filepath.Dir(path))
}

// NewestBackup returns the newest nightly backup in a folder.
func NewestBackup(dir string) (string, error) {
	names, err := nights(dir, "")
	if err != nil {
		return "", fmt.Errorf("store: backups: %w", err)
	}
	if len(names) == 0 {
		return "", fmt.Errorf("store: there is no nightly backup in %s", dir)
	}
	return filepath.Join(dir, names[len(names)-1]), nil
}

// same reports whether two names are of one file.
func same(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

// copySound writes a checked copy of a backup. What a backup's own journal
// still holds is in it too.
func copySound(ctx context.Context, backup, to string) error {
	info, err := os.Stat(backup)
	if err != nil {
		return err
	}
	if info.Size() == 0 {
		return errors.New("it is empty")
	}
	if found, err := inspect(ctx, backup); err != nil {
		return err
	} else if found != "" {
		return fmt.Errorf("it is damaged (%s); nothing was changed", found)
	}
	if err := removeAll(to, to+"-wal", to+"-shm"); err != nil {
		return err
	}
	db := connection(backup, 1, "query_only(0)")
	defer db.Close()
	var version int
	if version, err = identify(ctx, db); err != nil {
		return err
	}
	if version == 0 {
		return errors.New("it is no store of leavend's")
	}
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, to); err != nil {
		return err
	}
	if found, err := inspect(ctx, to); err != nil || found != "" {
		return errors.Join(err, fmt.Errorf("the copy is damaged: %s", found))
	}
	return syncFile(to)
}

// setAside gives the store at path another name, with its journal. It returns
// "" when there is no store.
func setAside(path, why string) (string, error) {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return "", removeAll(path+"-wal", path+"-shm")
	}
	aside := unused(path + "." + why + "-" + time.Now().UTC().Format("20060102T150405Z"))
	if err := os.Rename(path+"-wal", aside+"-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	if err := removeAll(path + "-shm"); err != nil {
		return "", err
	}
	return aside, os.Rename(path, aside)
}
