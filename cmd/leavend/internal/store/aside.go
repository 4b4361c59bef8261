package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// setRowsAside moves rows that cannot be read into a table of their own, as the
// values of an INSERT, so that somebody may still make sense of them, and the
// program never meets them again.
func setRowsAside(ctx context.Context, db *sql.DB, bad []BadRow, now time.Time) error {
	if len(bad) == 0 {
		return nil
	}
	return within(ctx, db, func(tx *sql.Tx) error {
		tables := map[string]bool{}
		for _, b := range bad {
			if err := setRowAside(ctx, tx, b, now); err != nil {
				return fmt.Errorf("%s %d: %w", b.Table, b.ID, err)
			}
			tables[b.Table] = true
		}
		// The bit may have changed a column that an index still has as it was.
		for name := range tables {
			if _, err := tx.ExecContext(ctx, `REINDEX `+name); err != nil && code(err) != sqlite3.SQLITE_CONSTRAINT {
				return err
			}
		}
		return nil
	})
}

func setRowAside(ctx context.Context, tx *sql.Tx, b BadRow, now time.Time) error {
	var columns string
	err := tx.QueryRowContext(ctx, `SELECT group_concat('quote(' || name || ')', ' || '', '' || ') FROM pragma_table_info(?)`, b.Table).Scan(&columns)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, fmt.Sprintf(`INSERT INTO aside (origin, row, why, made, data) SELECT ?, id, ?, ?, %s FROM %s WHERE id = ?`, columns, b.Table),
		b.Table, b.Why.Error(), now.UnixMilli(), b.ID)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM `+b.Table+` WHERE id = ?`, b.ID)
	return err
}

// reindex makes the indexes of tables again, since a row that its index does not
// name is not found. Two rows that a changed bit made alike are left as they are.
func reindex(ctx context.Context, db *sql.DB, tables []string) error {
	for _, name := range tables {
		var found string
		if err := db.QueryRowContext(ctx, `PRAGMA integrity_check(`+name+`)`).Scan(&found); err != nil {
			return err
		}
		if found == "ok" {
			continue
		}
		if _, err := db.ExecContext(ctx, `REINDEX `+name); err != nil && code(err) != sqlite3.SQLITE_CONSTRAINT {
			return err
		}
	}
	return nil
}

// checkReadings does each night what would take too long at a start: it reads each row of
// readings, and sees to their indexes.
func (s *Store) checkReadings(ctx context.Context) error {
	bad := map[string]BadRow{}
	if _, err := s.Verify(ctx, func(b BadRow) { bad[b.Table] = b }); err != nil {
		return err
	}
	for _, b := range bad {
		s.badRow(b)
	}
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	return reindex(ctx, s.f, large())
}

// setBadRowsAside reads the small tables at a start and sets aside what it cannot use.
func (s *Store) setBadRowsAside(ctx context.Context, report *Report) error {
	var bad []BadRow
	v := &verifier{q: s.w, clocks: map[int64]bool{}, bad: func(b BadRow) { bad = append(bad, b) }}
	err := v.run(ctx, referred())
	if err != nil {
		return err
	}
	if len(bad) > 0 { // what refers to them gets a stand-in
		if err = setRowsAside(ctx, s.f, bad, s.opts.Clock.Now()); err == nil {
			_, err = s.w.ExecContext(ctx, adopt)
		}
	} else {
		_, err = s.w.ExecContext(ctx, adoptEntries)
	}
	if err != nil {
		return err
	}
	report.Aside, bad = bad, nil
	v.clocks = map[int64]bool{}
	if err := v.run(ctx, slices.Concat(referred(), small())); err != nil {
		return err
	}
	report.Aside = append(report.Aside, bad...)
	if err := setRowsAside(ctx, s.f, bad, s.opts.Clock.Now()); err != nil || len(report.Aside) == 0 {
		return err
	}
	return s.fillAside(ctx, report)
}

// fillAside brings rows that were set aside back from the newest backup, as they
// were there. Without one they stay aside.
func (s *Store) fillAside(ctx context.Context, report *Report) error {
	f, err := fillFrom(ctx, s.w, s.opts.Backups)
	if err != nil || f.Backup == "" {
		return ctx.Err() // a backup that is no good either is no reason not to start
	}
	report.Filled.Backup = f.Backup
	if report.Filled.Rows == nil {
		report.Filled.Rows = map[string]int{}
	}
	for name, n := range f.Rows {
		report.Filled.Rows[name] += n
	}
	return nil
}
