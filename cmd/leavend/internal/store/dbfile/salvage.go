package dbfile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"leavend/cmd/leavend/internal/failure"
	"os"
)

// salvage makes the file fresh out of what can be read of the file at path.
func (s *Schema) salvage(ctx context.Context, path, fresh, backups string, h head, report *Report) error {
	report.Saved, report.Lost = map[string]int{}, map[string]int{}
	db := Connect(fresh, 1, "synchronous(OFF)", "journal_mode(MEMORY)")
	defer db.Close()
	if err := s.Migrate(ctx, db, s.versionOf(ctx, path)); err != nil {
		return err
	}
	// With writable_schema SQLite also reads a file that is shorter than its
	// first page says.
	if _, err := db.ExecContext(ctx, `PRAGMA writable_schema = ON; ATTACH ? AS old`, uri(path)+"?mode=ro"); err == nil {
		if err := s.salvageTables(ctx, db, path, h, report); err != nil {
			return err
		}
	}
	if _, err := db.ExecContext(ctx, s.StandIns); err != nil {
		return err
	}
	if err := s.Migrate(ctx, db, len(s.Migrations)); err != nil {
		return err
	}
	report.Filled, _ = s.fillFrom(ctx, db, backups) // a backup that is no good either is no reason not to start
	if err := db.Close(); err != nil {
		return err
	}
	return syncFile(fresh)
}

func (s *Schema) salvageTables(ctx context.Context, db *sql.DB, path string, h head, report *Report) error {
	size := int64(0)
	if info, err := os.Stat(path); err == nil {
		size = info.Size()
	}
	for _, t := range s.Tables {
		one := salvager{db: db, table: t, before: h.Tables[t.Name]}
		if err := one.run(ctx, size); err != nil {
			return fmt.Errorf("table %s: %w", t.Name, err)
		}
		report.Saved[t.Name], report.Lost[t.Name] = one.saved, one.lost
	}
	_, err := db.ExecContext(ctx, `DETACH old`)
	return err
}

// salvager copies what can be read of one table from the attached file "old"
// into the same table of the new one, row by row where it must.
type salvager struct {
	db          *sql.DB // of one connection; each statement stands alone, since an I/O error would take a whole transaction back
	table       Table
	columns     string
	before      tally // what it held when the first page was last copied; zero if that is not known
	blind       bool  // an end of the table is broken: most ids that were tried never existed
	saved, lost int
}

// run copies the table. A table whose definition is lost has nothing to copy.
func (s *salvager) run(ctx context.Context, fileSize int64) error {
	if err := s.findColumns(ctx); err != nil {
		return err
	}
	if s.columns == "" {
		return nil // a table of another schema
	}
	lo, hi, err := s.ends(ctx)
	switch {
	case err == nil:
		err = s.copyAll(ctx, lo, hi)
	case !damaged(err):
		return ctx.Err()
	case s.before.Max > 0: // an end of the table is broken
		err = s.copyBlind(ctx, s.before.Max+sinceHead)
	default: // no row is smaller than 16 bytes, which bounds the ids
		err = s.copyBlind(ctx, fileSize/16)
	}
	return errors.Join(err, s.count(ctx))
}

// copyBlind copies a table of which an end is broken. Where not one of a number
// of places in it can be read, its root is gone, and with it the way to all rows.
func (s *salvager) copyBlind(ctx context.Context, hi int64) error {
	const places = 256
	s.blind = true
	for i := range int64(places) {
		if s.readable(ctx, 1+i*hi/places) {
			return s.copyAll(ctx, 1, hi)
		}
	}
	return ctx.Err()
}

// sinceHead is how many rows of one table may have come since the first page was
// last copied, a day ago at most, where nothing says how many there are.
const sinceHead = 10_000

// count settles how many rows are lost: what the table held when that was last
// noted, and what came since by its highest id, less what was saved. Ids that
// were never read tell nothing by themselves, for rows are also removed.
func (s *salvager) count(ctx context.Context) error {
	var highest int64
	if err := s.db.QueryRowContext(ctx, `SELECT ifnull(max(id), 0) FROM main.`+s.table.Name).Scan(&highest); err != nil {
		return err
	}
	if s.table.Churns {
		return nil // what is not there was delivered
	}
	if s.before.Max == 0 && s.before.N == 0 {
		return s.countBySequence(ctx)
	}
	had := s.before.N
	if highest > s.before.Max {
		had += highest - s.before.Max
	}
	s.lost = max(0, int(had)-s.saved)
	return nil
}

// countBySequence counts by the highest id that there ever was, which SQLite
// keeps for tables whose ids are never given twice.
func (s *salvager) countBySequence(ctx context.Context) error {
	var last int64
	err := s.db.QueryRowContext(ctx, `SELECT seq FROM old.sqlite_sequence WHERE name = ?`, s.table.Name).Scan(&last)
	if err == nil {
		s.lost = max(0, int(last)-s.saved)
	} else if s.blind {
		s.lost = unknown
	}
	return ctx.Err()
}

// findColumns takes the names from the new table; a file of an older schema
// has fewer, and only those are copied.
func (s *salvager) findColumns(ctx context.Context) error {
	var names sql.NullString
	err := s.db.QueryRowContext(ctx, `SELECT group_concat(name) FROM pragma_table_info(?1, 'main')
		WHERE name IN (SELECT name FROM pragma_table_info(?1, 'old')) OR NOT EXISTS (SELECT 1 FROM pragma_table_info(?1, 'old'))`,
		s.table.Name).Scan(&names)
	if damaged(err) {
		err = s.db.QueryRowContext(ctx, `SELECT group_concat(name) FROM pragma_table_info(?, 'main')`, s.table.Name).Scan(&names)
	}
	s.columns = names.String
	return err
}

// ends returns the lowest and the highest id. An empty table has lo > hi.
func (s *salvager) ends(ctx context.Context) (lo, hi int64, err error) {
	one := func(of string) (int64, error) {
		var id sql.NullInt64
		err := s.db.QueryRowContext(ctx, fmt.Sprintf(`SELECT %s(id) FROM old.%s`, of, s.table.Name)).Scan(&id)
		return id.Int64, err
	}
	if lo, err = one("min"); err != nil {
		return 0, 0, err
	}
	hi, err = one("max")
	if lo == 0 && hi == 0 { // ids start at 1
		return 1, 0, err
	}
	return lo, hi, err
}

// Rows are copied in runs of at most mostRows. Where a run cannot be read it
// is made shorter; where a single row cannot, the way goes on in strides of
// maxStride, fewer than a broken page holds rows, to what can be read again.
const (
	mostRows  = 8192
	maxStride = 4
)

func (s *salvager) copyAll(ctx context.Context, lo, hi int64) error {
	run := int64(mostRows)
	for lo <= hi {
		to := min(lo+run-1, hi)
		ok, err := s.copy(ctx, lo, to)
		switch {
		case err != nil:
			return err
		case ok:
			lo, run = to+1, min(run*2, mostRows)
		case run > 1:
			run = max(1, run/4)
		default:
			next := s.skip(ctx, lo, hi)
			s.lost += int(next - lo)
			lo, run = next, 16
		}
	}
	return ctx.Err()
}

// copy copies the rows lo to hi, all or none, and reports whether it could.
// Its error is one of the new file, such as a full disk.
func (s *salvager) copy(ctx context.Context, lo, hi int64) (bool, error) {
	res, err := s.db.ExecContext(ctx, fmt.Sprintf(`INSERT OR IGNORE INTO main.%[1]s (%[2]s) SELECT %[2]s FROM old.%[1]s WHERE id BETWEEN ? AND ?`,
		s.table.Name, s.columns), lo, hi)
	if err != nil {
		if ctx.Err() != nil || errors.Is(Full(err), failure.ErrFull) {
			return false, err
		}
		return false, nil
	}
	n, err := res.RowsAffected()
	s.saved += int(n)
	return true, err
}

// skip returns the first id behind lo that can be read, or hi+1.
func (s *salvager) skip(ctx context.Context, lo, hi int64) int64 {
	bad, step := lo, int64(1)
	for !s.readable(ctx, bad+step) {
		bad += step
		step = min(step*2, maxStride)
		if bad > hi || ctx.Err() != nil {
			return hi + 1
		}
	}
	for id := bad + 1; id < bad+step; id++ {
		if s.readable(ctx, id) {
			return id
		}
	}
	return bad + step
}

// readable reports whether the page of an id can be read; the row itself need
// not exist.
func (s *salvager) readable(ctx context.Context, id int64) bool {
	rows, err := s.db.QueryContext(ctx, fmt.Sprintf(`SELECT %s FROM old.%s WHERE id = ?`, s.columns, s.table.Name), id)
	if err != nil {
		return false
	}
	defer rows.Close()
	for rows.Next() {
	}
	return rows.Err() == nil
}
