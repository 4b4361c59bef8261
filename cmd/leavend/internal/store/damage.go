package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// mend checks the file at path. A damaged one is set aside and replaced by a
// new one with all that could be read.
func mend(ctx context.Context, path, backups string, report *Report) error {
	fresh := path + ".new"
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		// A crash between the two renames below leaves the new file, whole,
		// under its first name.
		if _, err := os.Stat(fresh); err != nil {
			return nil
		}
		if err := os.Rename(fresh, path); err != nil {
			return err
		}
	}
	if err := removeAll(fresh, fresh+"-wal", fresh+"-shm"); err != nil {
		return err
	}
	h, known := readHead(path)
	damage := ""
	var err error
	if known && sameTables(path, h) {
		damage = wrongHead(path, h)
	}
	if damage == "" {
		damage, err = inspect(ctx, path)
	}
	if err == nil && damage == "" {
		return nil
	}
	foreign := errors.Is(err, errForeign)
	known = known && (!foreign || sameTables(path, h))
	if err != nil && !(foreign && known) {
		return err
	}
	if err != nil {
		damage = err.Error()
	}
	part := path + ".repair"
	defer removeAll(part, part+"-wal", part+"-shm")
	from, sound := path, false
	if known {
		if sound, err = repair(ctx, path, part, h); err == nil {
			from = part
		}
	}
	switch {
	case foreign && !sound:
		return errors.New(damage)
	case !sound && !known && !looksOurs(path):
		return errors.New("this is no store of leavend's; choose another path")
	}
	report.Damage = damage
	report.Repaired = sound
	return swap(ctx, path, from, fresh, backups, h, report)
}

// swap puts what can be had of a damaged file in its place: a copy whose first
// page was put right, or a new file with all rows that can be read.
func swap(ctx context.Context, path, from, fresh, backups string, h head, report *Report) error {
	if report.Repaired {
		for _, end := range []string{"", "-wal"} {
			if err := os.Rename(from+end, fresh+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	} else if err := salvage(ctx, from, fresh, backups, h, report); err != nil {
		removeAll(fresh, fresh+"-wal", fresh+"-shm")
		return fmt.Errorf("it is damaged (%s), and saving what is left failed: %w", report.Damage, full(err))
	}
	var err error
	if report.SetAside, err = setAside(path, "damaged"); err != nil {
		return err
	}
	for _, end := range []string{"-wal", ""} {
		if err := os.Rename(fresh+end, path+end); err != nil && (end == "" || !errors.Is(err, fs.ErrNotExist)) {
			return err
		}
	}
	return syncDir(filepath.Dir(path))
}

// unused returns name, or name with a number, so that no file has it.
func unused(name string) string {
	for n, try := 2, name; ; n++ {
		if _, err := os.Lstat(try); err != nil {
			return try
		}
		try = fmt.Sprintf("%s-%d", name, n)
	}
}

func removeAll(paths ...string) error {
	for _, p := range paths {
		if err := os.Remove(p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
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

// inspect runs SQLite's quick check and returns what it says is wrong, empty
// if nothing is. A sound file that is not ours is an error. Its error means that the check could not be run.
func inspect(ctx context.Context, path string) (string, error) {
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return "", err
	}
	db := connection(path, 1, "query_only(1)")
	defer db.Close()
	found, err := quickCheck(ctx, db)
	if err == nil && found == "" {
		_, err = identify(ctx, db)
	}
	if err == nil && found == "" {
		found, err = checkIndexes(ctx, db)
	}
	if damaged(err) {
		return err.Error(), nil
	}
	return found, err
}

// checkIndexes returns which of the small tables has an index that does not agree
// with its rows: a row that its index does not name is not found.
func checkIndexes(ctx context.Context, q querier) (string, error) {
	for _, name := range slices.Concat(referred(), small()) {
		var there int
		if err := q.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name = ?`, name).Scan(&there); err != nil || there == 0 {
			continue // of another schema
		}
		var found string
		if err := q.QueryRowContext(ctx, `PRAGMA integrity_check(`+name+`)`).Scan(&found); err != nil {
			return "", err
		}
		if found != "ok" {
			return found, nil
		}
	}
	return "", nil
}

// quickCheck returns what is wrong, in at most three lines.
func quickCheck(ctx context.Context, q querier) (string, error) {
	rows, err := q.QueryContext(ctx, `PRAGMA quick_check(3)`)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	var lines []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return "", err
		}
		lines = append(lines, strings.ReplaceAll(line, "\n", "; "))
	}
	if err := rows.Err(); err != nil || len(lines) == 1 && lines[0] == "ok" {
		return "", err
	}
	return strings.Join(lines, "; "), nil
}

// salvage makes the file fresh out of what can be read of the file at path.
func salvage(ctx context.Context, path, fresh, backups string, h head, report *Report) error {
	report.Saved, report.Lost = map[string]int{}, map[string]int{}
	db := connection(fresh, 1, "synchronous(OFF)", "journal_mode(MEMORY)")
	defer db.Close()
	if err := migrate(ctx, db, schemaOf(ctx, path)); err != nil {
		return err
	}
	size := int64(0)
	if info, err := os.Stat(path); err == nil {
		size = info.Size()
	}
	// With writable_schema SQLite also reads a file that is shorter than its
	// first page says.
	if _, err := db.ExecContext(ctx, `PRAGMA writable_schema = ON; ATTACH ? AS old`, fileURI(path)+"?mode=ro"); err == nil {
		for _, t := range tables {
			s := salvager{db: db, table: t.name, before: h.Tables[t.name]}
			if err := s.run(ctx, size); err != nil {
				return fmt.Errorf("table %s: %w", t.name, err)
			}
			report.Saved[t.name], report.Lost[t.name] = s.saved, s.lost
		}
		if _, err := db.ExecContext(ctx, `DETACH old`); err != nil {
			return err
		}
	}
	if _, err := db.ExecContext(ctx, adopt); err != nil {
		return err
	}
	if err := migrate(ctx, db, len(migrations)); err != nil {
		return err
	}
	var err error
	if report.Filled, err = fillFrom(ctx, db, backups); err != nil && !errors.Is(err, errOtherStore) {
		report.Filled = Fill{} // a backup that is no good either is no reason not to start
	}
	if err := db.Close(); err != nil {
		return err
	}
	return syncFile(fresh)
}

// adoptEntries gives entries whose clock is not there a stand-in.
const adoptEntries = `
INSERT OR IGNORE INTO clock (id, boot, zero, live) SELECT clock, 'lost ' || clock, min(t), 1 FROM entry
	WHERE typeof(clock) = 'integer' AND clock NOT IN (SELECT id FROM clock) GROUP BY clock;
`

// adopt gives rows whose vessel, channel or clock was lost a stand-in, so that
// they can be found, and asks for rollups to be worked out again.
const adopt = `
INSERT OR IGNORE INTO clock (id, boot, zero, live) SELECT clock, 'lost ' || clock, min(t), 1 FROM
	(SELECT clock, t FROM block UNION ALL SELECT clock, t FROM entry UNION ALL SELECT clock, t FROM rollup) GROUP BY clock;
INSERT OR IGNORE INTO vessel (id, name) SELECT DISTINCT vessel, 'lost ' || vessel FROM
	(SELECT vessel FROM block UNION ALL SELECT vessel FROM rollup);
UPDATE clock SET settled = 0 WHERE live;
-- Numbers of channels whose names were lost are not given to others.
INSERT OR IGNORE INTO channel (vessel, name, number) SELECT 0, 'damage ' || datetime('now'), ifnull(max(number), 0) + 100 FROM channel;
`

// syncFile flushes a file to the disk.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
