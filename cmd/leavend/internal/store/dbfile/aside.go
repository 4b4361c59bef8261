package dbfile

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// SetRowsAside moves rows that cannot be read into the table aside, as the
// values of an INSERT, so that somebody may still make sense of them, and the
// program never meets them again.
func SetRowsAside(ctx context.Context, db *sql.DB, bad []BadRow, now time.Time) error {
	return Within(ctx, db, func(tx *sql.Tx) error {
		tables := map[string]bool{}
		for _, b := range bad {
			if err := setRowAside(ctx, tx, b, now); err != nil {
				return fmt.Errorf("%s %d: %w", b.Table, b.ID, err)
			}
			tables[b.Table] = true
		}
		for name := range tables { // the bit may have changed a column that an index still has as it was
			if err := reindex(ctx, tx, name); err != nil {
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

// MendIndexes makes those indexes of tables again that do not agree with their
// rows, since a row that its index does not name is not found.
func MendIndexes(ctx context.Context, db *sql.DB, tables []string) error {
	for _, name := range tables {
		found, err := checkTable(ctx, db, name)
		if err == nil && found != "" {
			err = reindex(ctx, db, name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// reindex makes the indexes of a table again. Two rows that a changed bit made
// alike are left as they are.
func reindex(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, table string) error {
	_, err := db.ExecContext(ctx, `REINDEX `+table)
	if Code(err) == sqlite3.SQLITE_CONSTRAINT {
		return nil
	}
	return err
}

// FillAside brings rows that were set aside back from the newest backup, as they
// were there. Without one they stay aside.
func (s *Schema) FillAside(ctx context.Context, db *sql.DB, backups string, report *Report) error {
	f, err := s.fillFrom(ctx, db, backups)
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
