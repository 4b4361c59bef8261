// Package dbfile keeps one SQLite file sound: it opens and locks it, brings its
// schema up to date, checks it, mends it after damage, and copies it.
//
// # Damage
//
// Beside the file lies a copy of its first page, with the number of rows in each
// table (NAME.head). Each start checks the file:
//
//   - a header that is not as it was is put right from the copy, and nothing is
//     lost;
//   - otherwise the file is set aside, and each row that can be read goes into a
//     new one; where the first page or the table of tables is gone, the copy says
//     where the tables begin. What is lost is counted by the copy's numbers, and
//     comes back from the newest nightly backup where that has it;
//   - rows that a flipped bit has made unreadable in a sound file go into the
//     table aside, as the values of an INSERT, and are told.
package dbfile

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"

	_ "modernc.org/sqlite" // the driver
)

// Querier is a database, a connection or a transaction.
type Querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, string, ...any) *sql.Row
}

// Each hands each row of a query's answer to read, until that fails.
func Each(ctx context.Context, q Querier, read func(*sql.Rows) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := read(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Column returns the answer of a query for one column.
func Column[T any](ctx context.Context, q Querier, query string, args ...any) (all []T, err error) {
	err = Each(ctx, q, func(row *sql.Rows) error {
		var one T
		err := row.Scan(&one)
		all = append(all, one)
		return err
	}, query, args...)
	return all, err
}

// Within runs fn in a transaction of db.
func Within(ctx context.Context, db interface {
	BeginTx(context.Context, *sql.TxOptions) (*sql.Tx, error)
}, fn func(*sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return Full(err)
	}
	defer tx.Rollback()
	if err := fn(tx); err != nil {
		return Full(err)
	}
	return Full(tx.Commit())
}

// uri names a file to SQLite, whatever characters are in its path.
func uri(path string) string {
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}).String()
}

// Connect returns a pool of up to n connections. database/sql opens them
// when they are needed, so it cannot fail.
func Connect(path string, n int, pragmas ...string) *sql.DB {
	q := url.Values{"_txlock": {"immediate"}, "_pragma": append([]string{"busy_timeout(10000)", "cache_size(-1024)"}, pragmas...)}
	db, err := sql.Open("sqlite", uri(path)+"?"+q.Encode())
	if err != nil { // only for an unknown driver
		panic(err)
	}
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return db
}

// Private makes the file, if there is none, so that only its owner can read it,
// whatever the umask is; SQLite makes the files beside it alike. One that others
// may read is closed to them.
func Private(path string) error {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(path + freshEnd); err == nil {
			return nil // a crash left the file under this name; Mend puts it right
		}
		f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
		if err != nil {
			return err
		}
		return f.Close()
	}
	if err == nil && info.Mode().IsRegular() && info.Mode().Perm()&0o077 != 0 {
		_ = os.Chmod(path, info.Mode().Perm()&0o700) // another owner's stays as it is
	}
	return nil
}
