package dbfile

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"

	"leavend/cmd/leavend/internal/failure"
)

// Source is a file that is copied while everything goes on.
type Source struct {
	*Schema
	Path string
	Read *sql.DB
}

// Part says which rows a copy leaves out; nil leaves out none.
type Part struct {
	Where map[string]string // SQL by table, for the rows that are copied; the file is the database "whole"
	Bytes int64             // about what is left out
}

// Copy writes a sound copy to a file that must not exist yet. The copy is checked
// before it gets its name, so a file of that name is a good one. A disk without
// room for it gives [failure.ErrFull] before anything is written, and where that
// cannot be foreseen, nothing of the copy is left.
func (c Source) Copy(ctx context.Context, file string, part *Part) error {
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("store: backup: %s exists; choose another name", file)
	}
	if _, err := os.Stat(filepath.Dir(file)); err != nil {
		return fmt.Errorf("store: backup to %s: its folder: %w", file, err)
	}
	if err := c.roomFor(ctx, file, 0, part); err != nil {
		return fmt.Errorf("store: backup to %s: %w", file, err)
	}
	begun := file + partEnd
	if err := removeAll(begun); err != nil {
		return fmt.Errorf("store: backup: %w", err)
	}
	if err := c.write(ctx, begun, file, part); err != nil {
		removeAll(begun)
		return fmt.Errorf("store: backup to %s: %w", file, Full(err))
	}
	return nil
}

// roomLeft is what a backup on the file's own disk must leave to it: a copy that
// fills the disk would keep readings and feeds out while it is made. Four jars
// take 18 MB of log and file a day at the most.
const roomLeft = 16 << 20

// roomFor gives ErrFull when a copy cannot fit where file is to stand. more is
// what is going to be free beside what is free now.
func (c Source) roomFor(ctx context.Context, file string, more int64, part *Part) error {
	var size int64
	err := c.Read.QueryRowContext(ctx, `SELECT (page_count - freelist_count) * page_size
		FROM pragma_page_count, pragma_freelist_count, pragma_page_size`).Scan(&size)
	if err != nil {
		return err
	}
	if part != nil {
		size -= part.Bytes
	}
	free, ok := FreeIn(filepath.Dir(file))
	if !ok {
		return nil // the copy itself will tell
	}
	need, why := size, ""
	if sameDisk(filepath.Dir(file), filepath.Dir(c.Path)) {
		need, why = size+roomLeft, fmt.Sprintf(" and the store itself needs %.1f MB on this disk", float64(roomLeft)/1e6)
	}
	if free+more < need {
		return fmt.Errorf("%w: the copy takes about %.1f MB%s, and %.1f MB are free", failure.ErrFull, float64(size)/1e6, why, float64(free)/1e6)
	}
	return nil
}

func (c Source) write(ctx context.Context, begun, file string, part *Part) error {
	if err := c.writePart(ctx, begun, part); err != nil {
		return err
	}
	if err := os.Chmod(begun, 0o600); err != nil {
		return err
	}
	if err := c.sound(ctx, begun); err != nil {
		return err
	}
	// Link and not rename: it fails if somebody made the file meanwhile.
	if err := os.Link(begun, file); err != nil {
		if err := os.Rename(begun, file); err != nil { // a file system without links
			return err
		}
	} else if err := os.Remove(begun); err != nil {
		return err
	}
	return syncDir(filepath.Dir(file))
}

// writePart writes a file that holds all rows but those that are left out. It
// reads in one transaction.
func (c Source) writePart(ctx context.Context, to string, part *Part) error {
	if part == nil {
		// VACUUM INTO refuses a connection that may only query, so the copy is
		// made by one of its own; it only reads.
		db := Connect(c.Path, 1)
		defer db.Close()
		_, err := db.ExecContext(ctx, `VACUUM INTO ?`, to)
		return err
	}
	db := Connect(to, 1, "synchronous(OFF)", "journal_mode(MEMORY)")
	defer db.Close()
	if err := c.Migrate(ctx, db, len(c.Migrations)); err != nil {
		return err
	}
	if _, err := db.ExecContext(ctx, `ATTACH ? AS whole`, uri(c.Path)); err != nil {
		return err
	}
	err := Within(ctx, db, func(tx *sql.Tx) error {
		for _, t := range c.Tables {
			if t.Former {
				continue
			}
			query := fmt.Sprintf(`INSERT OR REPLACE INTO main.%[1]s SELECT * FROM whole.%[1]s`, t.Name)
			if where := part.Where[t.Name]; where != "" {
				query += ` WHERE ` + where
			}
			if _, err := tx.ExecContext(ctx, query); err != nil {
				return fmt.Errorf("%s: %w", t.Name, err)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return db.Close()
}
