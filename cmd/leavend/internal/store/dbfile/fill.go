package dbfile

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

var errOtherStore = errors.New("it is a backup of another store")

// fillFrom puts the rows that a file lacks into it from the newest backup of its
// own in a folder. What the file has is newer and stays.
func (s *Schema) fillFrom(ctx context.Context, db *sql.DB, dir string) (Fill, error) {
	names, err := Nights(dir)
	if err != nil {
		return Fill{}, nil // there is no folder yet
	}
	for i := len(names) - 1; i >= 0; i-- {
		f := Fill{Backup: filepath.Join(dir, names[i]), Rows: map[string]int{}}
		if err = s.fill(ctx, db, f); err == nil {
			return f, nil
		}
		err = fmt.Errorf("%s: %w", f.Backup, err)
	}
	return Fill{}, err
}

// fill takes what one backup has, all or nothing.
func (s *Schema) fill(ctx context.Context, db *sql.DB, f Fill) error {
	if found, err := s.Inspect(ctx, f.Backup); err != nil || found != "" {
		return errors.Join(err, errors.New(found))
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, `ATTACH ? AS backup`, uri(f.Backup)+"?mode=ro"); err != nil {
		return err
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), `DETACH backup`)
	var others int
	if err := conn.QueryRowContext(ctx, s.Others).Scan(&others); err != nil {
		return err
	}
	if others > 0 {
		return errOtherStore
	}
	return Within(ctx, conn, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, s.Found); err != nil {
			return err
		}
		for _, t := range s.Tables {
			if !t.Filled {
				continue
			}
			if f.Rows[t.Name], err = fillTable(ctx, tx, t.Name); err != nil {
				return fmt.Errorf("%s: %w", t.Name, err)
			}
		}
		return nil
	})
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
