package dbfile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Schema is what a program keeps in its files.
type Schema struct {
	AppID      uint32   // marks a file as the program's, for file(1) too
	Migrations []string // run in order, each in a transaction of its own; the number run is kept in the file
	Tables     []Table  // the dearest first

	// StandIns is SQL that gives rows whose counterpart was lost another one, so
	// that they can be found. Found is SQL that takes out of main the stand-ins of
	// what the database "backup" knows; Others counts what shows that this is a
	// backup of another file.
	StandIns, Found, Others string
}

// Table is a table whose rows are carried over from a damaged file. Each has a
// column id, its key.
type Table struct {
	Name   string
	Says   string // its rows in the report, a key below alarm.history.of; "" leaves them out
	Filled bool   // its rows stay for good, so that lost ones come back from a backup
	Churns bool   // its rows come and go all the time, so that one that is missing is not known to be lost
	Small  bool   // its index is compared with its rows at each start
	Former bool   // an earlier schema had it
}

// errForeign says that a sound file is none that this program can use.
var errForeign = errors.New("left alone")

// Identify returns the schema a file has, 0 for an empty one. It refuses a
// file that is not ours or that a newer version wrote, and changes nothing.
func (s *Schema) Identify(ctx context.Context, q Querier) (version int, err error) {
	var id uint32
	var tables int
	err = q.QueryRowContext(ctx, `SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)`).Scan(&id, &version, &tables)
	switch {
	case err != nil:
		return 0, err
	case id != s.AppID && tables > 0:
		return 0, fmt.Errorf("%w: this is a SQLite file, but not one of leavend's; choose another path", errForeign)
	case version > len(s.Migrations):
		return 0, fmt.Errorf("%w: it was written by a newer leavend (schema %d, this one knows %d); update leavend", errForeign, version, len(s.Migrations))
	}
	return version, nil
}

// Migrate brings the file to a schema, usually the newest.
func (s *Schema) Migrate(ctx context.Context, db *sql.DB, to int) error {
	version, err := s.Identify(ctx, db)
	if err != nil {
		return err
	}
	for ; version < to; version++ {
		err := Within(ctx, db, func(tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, fmt.Sprintf("%s; PRAGMA application_id = %d; PRAGMA user_version = %d;", s.Migrations[version], s.AppID, version+1))
			return err
		})
		if err != nil {
			return fmt.Errorf("migration to schema %d: %w", version+1, err)
		}
	}
	return nil
}

// versionOf returns the schema of a damaged file, or the newest where that
// cannot be read.
func (s *Schema) versionOf(ctx context.Context, path string) int {
	db := Connect(path, 1, "query_only(1)")
	defer db.Close()
	if version, err := s.Identify(ctx, db); err == nil && version > 0 {
		return version
	}
	return len(s.Migrations)
}
