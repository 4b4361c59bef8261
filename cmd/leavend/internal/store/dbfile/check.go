package dbfile

import (
	"bytes"
	"context"
	"os"
	"strings"
)

// Inspect runs SQLite's quick check and returns what it says is wrong, empty
// if nothing is. A sound file that is not ours is an error, and so is a check
// that could not be run.
func (s *Schema) Inspect(ctx context.Context, path string) (string, error) {
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return "", err
	}
	db := Connect(path, 1, "query_only(1)")
	defer db.Close()
	found, err := QuickCheck(ctx, db)
	if err == nil && found == "" {
		_, err = s.Identify(ctx, db)
	}
	if err == nil && found == "" {
		found, err = s.checkIndexes(ctx, db)
	}
	if damaged(err) {
		return err.Error(), nil
	}
	return found, err
}

// checkIndexes returns what is wrong with a small table whose index does not agree
// with its rows: a row that its index does not name is not found.
func (s *Schema) checkIndexes(ctx context.Context, q Querier) (string, error) {
	for _, t := range s.Tables {
		if !t.Small {
			continue
		}
		var there int
		if err := q.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name = ?`, t.Name).Scan(&there); err != nil || there == 0 {
			continue // of another schema
		}
		if found, err := checkTable(ctx, q, t.Name); err != nil || found != "" {
			return found, err
		}
	}
	return "", nil
}

// checkTable compares a table with its indexes.
func checkTable(ctx context.Context, q Querier, name string) (found string, err error) {
	err = q.QueryRowContext(ctx, `PRAGMA integrity_check(`+name+`)`).Scan(&found)
	if found == "ok" {
		return "", err
	}
	return found, err
}

// QuickCheck returns what is wrong, in at most three lines.
func QuickCheck(ctx context.Context, q Querier) (string, error) {
	lines, err := Column[string](ctx, q, `PRAGMA quick_check(3)`)
	if err != nil || len(lines) == 1 && lines[0] == "ok" {
		return "", err
	}
	return strings.ReplaceAll(strings.Join(lines, "; "), "\n", "; "), nil
}

// looksOurs reports whether a file that SQLite cannot read may still be a
// damaged store: one without any zero byte at its start is somebody's text.
func looksOurs(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 4096)
	n, _ := f.Read(head)
	return bytes.IndexByte(head[:n], 0) >= 0
}
