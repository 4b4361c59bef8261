package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
)

// Fill says what came back from a backup after damage.
type Fill struct {
	Backup string         // the file; empty if there was none that could be used
	Rows   map[string]int // by table
}

// filled are the tables whose lost rows come back from a backup: those whose rows
// are never taken out again, and readings.
func filled() []string {
	return []string{"clock", "vessel", "channel", "entry", "revision", "kept", "kept_before", "photo", "photo_before", "rollup", "block"}
}

// fillFrom puts the rows that a store lacks into it from the newest backup of its
// own in a folder. What the store has is newer and stays.
func fillFrom(ctx context.Context, db *sql.DB, dir string) (Fill, error) {
	names, err := nights(dir, "")
	if err != nil {
		return Fill{}, nil // there is no folder yet
	}
	for i := len(names) - 1; i >= 0; i-- {
		f := Fill{Backup: filepath.Join(dir, names[i]), Rows: map[string]int{}}
		err = f.take(ctx, db)
		if err == nil {
			return f, nil
		}
	}
	return Fill{}, err
}

var errOtherStore = errors.New("it is a backup of another store")

// take fills a store from one backup, all or nothing.
func (f Fill) take(ctx context.Context, db *sql.DB) error {
	if found, err := inspect(ctx, f.Backup); err != nil || found != "" {
		return errors.Join(err, fmt.Errorf("%s: %s", f.Backup, found))
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, `ATTACH ? AS backup`, fileURI(f.Backup)+"?mode=ro"); err != nil {
		return err
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), `DETACH backup`)
	var others int
	err = conn.QueryRowContext(ctx, `SELECT count(*) FROM backup.clock b JOIN main.clock c ON c.id = b.id WHERE b.boot <> c.boot AND c.boot NOT LIKE 'lost %'`).Scan(&others)
	if err != nil {
		return err
	}
	if others > 0 {
		return fmt.Errorf("%s: %w", f.Backup, errOtherStore)
	}
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	// A stand-in of a clock or a vessel goes, for the backup knows its name.
	for _, q := range []string{
		`DELETE FROM main.clock WHERE boot LIKE 'lost %' AND id IN (SELECT id FROM backup.clock)`,
		`DELETE FROM main.vessel WHERE name LIKE 'lost %' AND id IN (SELECT id FROM backup.vessel)`,
	} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	for _, name := range filled() {
		if f.Rows[name], err = fillTable(ctx, tx, name); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return tx.Commit()
}

// fillTable copies the rows whose id the table lacks. A backup of an earlier
// schema may lack the table.
func fillTable(ctx context.Context, tx *sql.Tx, name string) (int, error) {
	var columns sql.NullString
	err := tx.QueryRowContext(ctx, `SELECT group_concat(name) FROM pragma_table_info(?1, 'backup')
		WHERE name IN (SELECT name FROM pragma_table_info(?1, 'main'))`, name).Scan(&columns)
	if err != nil || columns.String == "" {
		return 0, err
	}
	res, err := tx.ExecContext(ctx, strings.NewReplacer("TABLE", name, "COLUMNS", columns.String).Replace(
		`INSERT OR IGNORE INTO main.TABLE (COLUMNS) SELECT COLUMNS FROM backup.TABLE WHERE id NOT IN (SELECT id FROM main.TABLE)`))
	if err != nil {
		return 0, err
	}
	n, err := res.RowsAffected()
	return int(n), err
}
