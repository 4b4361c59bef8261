package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a whole, sound copy of the store to a file that must not
// exist yet, while everything goes on. What is still in memory is committed
// first. The copy is checked before it gets its name, so a file of that name
// is a good one; it opens as a store.
func (s *Store) Backup(ctx context.Context, file string) error {
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("store: backup: %s exists; choose another name", file)
	}
	if _, err := os.Stat(filepath.Dir(file)); err != nil {
		return fmt.Errorf("store: backup to %s: its folder: %w", file, err)
	}
	if !s.opts.ReadOnly {
		if err := s.Flush(ctx); err != nil {
			return fmt.Errorf("store: backup: %w", err)
		}
	}
	part := file + ".part"
	if err := removeAll(part); err != nil {
		return fmt.Errorf("store: backup: %w", err)
	}
	if err := s.backup(ctx, part, file); err != nil {
		removeAll(part)
		return fmt.Errorf("store: backup to %s: %w", file, full(err))
	}
	return nil
}

func (s *Store) backup(ctx context.Context, part, file string) error {
	// VACUUM INTO refuses a connection that may only query, so the copy is
	// made by one of its own; it only reads the store.
	db := connection(s.path, 1)
	defer db.Close()
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return err
	}
	found, err := inspect(ctx, part)
	if err == nil && found != "" {
		err = fmt.Errorf("the copy is damaged: %s", found)
	}
	if err != nil {
		return err
	}
	if err := syncFile(part); err != nil {
		return err
	}
	// Link and not rename: it fails if somebody made the file meanwhile.
	if err := os.Link(part, file); err != nil {
		if err := os.Rename(part, file); err != nil { // a file system without links
			return err
		}
	} else if err := os.Remove(part); err != nil {
		return err
	}
	return syncDir(filepath.Dir(file))
}

// syncDir flushes a directory, so that a new name in it lasts.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
