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
	var done Imported
	if s.opts.ReadOnly {
		return done, ErrReadOnly
	}
	clock, err := s.beginImport(ctx, vessel, key)
	if err != nil {
		return done, fmt.Errorf("store: import: %w", err)
	}
	var batch []arrival
	for row, err := range rows {
		if err != nil {
			return done, fmt.Errorf("store: import: %w", err)
		}
		if err := s.notAhead(row.At); err != nil {
			if done.Refused++; done.First == nil {
				done.First = err
			}
			continue
		}
		done.Rows++
		for channel, v := range row.Values {
			if n, ok := quantise(v); ok && channel != "" {
				batch = append(batch, arrival{vessel, channel, row.At.UnixMilli(), n})
				if channel != Surface { // which says of a distance that it is believed
					done.Readings++
				}
			}
		}
		if row.New {
			if err := s.importEntry(ctx, clock, kindStarter, vessel, row.At, `{}`); err != nil {
				return done, fmt.Errorf("store: import starter: %w", err)
			}
			done.Starters++
		}
		if row.Fed {
			if err := s.importEntry(ctx, clock, kindFeed, vessel, row.At, `{"source":"marked"}`); err != nil {
				return done, fmt.Errorf("store: import feed: %w", err)
			}
			done.Feeds++
		}
		if len(batch) >= importBatch {
			if err := s.importSome(ctx, clock, batch); err != nil {
				return done, err
			}
			batch = batch[:0]
		}
	}
	if err := s.importSome(ctx, clock, batch); err != nil {
		return done, err
	}
	return done, s.urgent(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE clock SET settled = 1 WHERE id = ?`, clock)
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

func (s *Copies) importSome(ctx context.Context, clock int64, batch []arrival) error {
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	w := newWriting(s.readings, clock, false)
	if err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) error { return w.write(ctx, tx, batch) }); err != nil {
		return fmt.Errorf("store: import: %w", err)
	}
	w.settle()
	return nil
}

func (s *Copies) importEntry(ctx context.Context, clock int64, kind, vessel string, at time.Time, body string) error {
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	return dbfile.Within(ctx, s.w, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO entry (kind, vessel, clock, t, body) VALUES (?, ?, ?, ?, ?)`,
			kind, vessel, clock, at.UnixMilli(), body)
		return err
	})
}
