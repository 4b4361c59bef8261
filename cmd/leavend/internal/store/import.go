package store

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"leavend/cmd/leavend/internal/store/dbfile"
	"time"
)

// ImportRow is one moment of a recording.
type ImportRow struct {
	At     time.Time
	Values map[Channel]float64 // those that are no number are left out
	Fed    bool
	New    bool // a new starter began
}

// Imported counts what an import stored.
type Imported struct {
	Rows, Readings, Feeds, Starters int

	Refused int   // rows that are dated ahead of now
	First   error // why the first of them was
}

// importBatch is how many readings go into one transaction, so that an import
// never holds up the daemon's own commits for long.
const importBatch = 8192

// Import stores a recording's rows as a vessel's readings and marked feeds.
// key names the recording, best by a hash of its bytes: a second import of
// the same key gives [ErrImported], and one that was cut short is begun again
// from the start. Rows are not held in memory; an error from rows ends it.
func (s *Copies) Import(ctx context.Context, vessel, key string, rows iter.Seq2[ImportRow, error]) (Imported, error) {
	i := &importing{s: s, vessel: vessel}
	if s.opts.ReadOnly {
		return i.done, ErrReadOnly
	}
	err := i.run(ctx, key, rows)
	if err != nil {
		err = fmt.Errorf("store: import: %w", err)
	}
	return i.done, err
}

// importing is an import on its way.
type importing struct {
	s      *Copies
	vessel string
	clock  int64
	batch  []arrival
	done   Imported
}

func (i *importing) run(ctx context.Context, key string, rows iter.Seq2[ImportRow, error]) (err error) {
	if i.clock, err = i.s.beginImport(ctx, i.vessel, key); err != nil {
		return err
	}
	for row, err := range rows {
		if err == nil {
			err = i.add(ctx, row)
		}
		if err != nil {
			return err
		}
	}
	if err := i.write(ctx); err != nil {
		return err
	}
	return i.s.urgent(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE clock SET settled = 1 WHERE id = ?`, i.clock)
		return err
	})
}

// add takes one row; one that is dated ahead is counted and left out.
func (i *importing) add(ctx context.Context, row ImportRow) error {
	if err := i.s.notAhead(row.At); err != nil {
		if i.done.Refused++; i.done.First == nil {
			i.done.First = err
		}
		return nil
	}
	i.done.Rows++
	for channel, v := range row.Values {
		if n, ok := quantise(v); ok && channel != "" {
			i.batch = append(i.batch, arrival{i.vessel, channel, row.At.UnixMilli(), n})
			if channel != Surface { // which says of a distance that it is believed
				i.done.Readings++
			}
		}
	}
	if row.New {
		if err := i.entry(ctx, kindStarter, row.At, `{}`); err != nil {
			return err
		}
		i.done.Starters++
	}
	if row.Fed {
		if err := i.entry(ctx, kindFeed, row.At, `{"source":"marked"}`); err != nil {
			return err
		}
		i.done.Feeds++
	}
	if len(i.batch) < importBatch {
		return nil
	}
	return i.write(ctx)
}

// write commits the readings that were gathered.
func (i *importing) write(ctx context.Context) error {
	if err := i.s.take(ctx); err != nil {
		return err
	}
	defer i.s.give()
	w := newWriting(i.s.readings, i.clock, false)
	if err := dbfile.Within(ctx, i.s.w, func(tx *sql.Tx) error { return w.write(ctx, tx, i.batch) }); err != nil {
		return err
	}
	w.settle()
	i.batch = i.batch[:0]
	return nil
}

func (i *importing) entry(ctx context.Context, kind string, at time.Time, body string) error {
	if err := i.s.take(ctx); err != nil {
		return err
	}
	defer i.s.give()
	return dbfile.Within(ctx, i.s.w, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO entry (kind, vessel, clock, t, body) VALUES (?, ?, ?, ?, ?)`,
			kind, i.vessel, i.clock, at.UnixMilli(), body)
		return err
	})
}

// beginImport makes the import's clock, whose t is wall time, and clears what
// an earlier try left.
func (s *Copies) beginImport(ctx context.Context, vessel, key string) (int64, error) {
	var id int64
	if vessel == "" {
		return 0, fmt.Errorf("it names no vessel")
	}
	name := "import " + vessel + " " + key
	return id, s.urgent(ctx, func(tx *sql.Tx) error {
		var settled bool
		err := tx.QueryRowContext(ctx, `SELECT id, settled FROM clock WHERE boot = ?`, name).Scan(&id, &settled)
		if err == nil && settled {
			return ErrImported
		}
		if err == nil {
			for _, table := range []string{"block", "rollup", "entry"} {
				if _, err := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE clock = ?`, id); err != nil {
					return err
				}
			}
			return nil
		}
		res, err := tx.ExecContext(ctx, `INSERT INTO clock (boot, zero, synced, live) VALUES (?, 0, 1, 0)`, name)
		if err != nil {
			return err
		}
		id, err = res.LastInsertId()
		return err
	})
}
