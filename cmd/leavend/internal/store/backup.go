package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Copies makes copies of the store and of parts of it: backups, exports, and
// readings that come from a recording.
type Copies struct {
	*file
	readings *Readings
	journal  *Journal
	loaves   *Loaves
	kept     *States
}

// Backup writes a whole, sound copy of the store to a file that must not
// exist yet, while everything goes on. What is still in memory is committed
// first. The copy is checked before it gets its name, so a file of that name
// is a good one; it opens as a store. A disk without room for it gives ErrFull
// before anything is written, and where that cannot be foreseen, nothing of the
// copy is left.
func (s *Copies) Backup(ctx context.Context, file string) error { return s.copyTo(ctx, file, false) }

func (s *Copies) copyTo(ctx context.Context, file string, small bool) error {
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("store: backup: %s exists; choose another name", file)
	}
	if _, err := os.Stat(filepath.Dir(file)); err != nil {
		return fmt.Errorf("store: backup to %s: its folder: %w", file, err)
	}
	if !s.opts.ReadOnly {
		if err := s.readings.Flush(ctx); err != nil {
			return fmt.Errorf("store: backup: %w", err)
		}
	}
	if err := s.roomFor(ctx, file, 0, small); err != nil {
		return fmt.Errorf("store: backup to %s: %w", file, err)
	}
	part := file + partEnd
	if err := removeAll(part); err != nil {
		return fmt.Errorf("store: backup: %w", err)
	}
	if err := s.backup(ctx, part, file, small); err != nil {
		removeAll(part)
		return fmt.Errorf("store: backup to %s: %w", file, full(err))
	}
	return nil
}

// partEnd ends the name of a backup that is not whole yet.
const partEnd = ".part"

// roomLeft is what a backup on the store's own disk must leave to the store: a
// copy that fills the disk would keep readings and feeds out while it is made.
// Four jars take 18 MB of log and file a day at the most.
const roomLeft = 16 << 20

// roomFor gives ErrFull when a copy of the store cannot fit where file is to
// stand. more is what is going to be free beside what is free now.
func (s *Copies) roomFor(ctx context.Context, file string, more int64, small bool) error {
	var size int64
	err := s.r.QueryRowContext(ctx, `SELECT (page_count - freelist_count) * page_size
		FROM pragma_page_count, pragma_freelist_count, pragma_page_size`).Scan(&size)
	if err != nil {
		return err
	}
	if small {
		size -= s.leftOut(ctx)
	}
	free, ok := freeIn(filepath.Dir(file))
	if !ok {
		return nil // the copy itself will tell
	}
	need, why := size, ""
	if sameDisk(filepath.Dir(file), filepath.Dir(s.path)) {
		need, why = size+roomLeft, fmt.Sprintf(" and the store itself needs %.1f MB on this disk", float64(roomLeft)/1e6)
	}
	if free+more < need {
		return fmt.Errorf("%w: the copy takes about %.1f MB%s, and %.1f MB are free", ErrFull, float64(size)/1e6, why, float64(free)/1e6)
	}
	return nil
}

func (s *Copies) backup(ctx context.Context, part, file string, small bool) error {
	// VACUUM INTO refuses a connection that may only query, so the copy is
	// made by one of its own; it only reads the store.
	db := connection(s.path, 1)
	defer db.Close()
	if small {
		if err := smallCopy(ctx, s.file.path, part, s.lineNow().Add(-smallSpan)); err != nil {
			return err
		}
	} else if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return err
	}
	if err := os.Chmod(part, 0o600); err != nil {
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
