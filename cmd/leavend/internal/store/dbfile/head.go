package dbfile

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"os"

	"leavend/cmd/leavend/internal/atomicfile"
)

// The first page of the file says how to read all others, so a copy of it lies
// beside the file, with how many rows each table holds: a damaged first page is
// put right from it, and what damage has cost is counted by it. It is written
// at each start, once a day, and at the end.
type head struct {
	Page   []byte           `json:"page"`
	Tables map[string]tally `json:"tables"`
	Schema []table          `json:"schema"`
}

// table is where a table begins, and how it was made.
type table struct {
	Name string `json:"name"`
	Root int64  `json:"root"`
	SQL  string `json:"sql"`
}

// tally is how many rows a table has, and the highest id.
type tally struct {
	N   int64 `json:"n"`
	Max int64 `json:"max"`
}

const pageSize = 4096 // SQLite's own default, which this program never changes

// NoteHead writes the copy of the first page of the file at path. The caller sees
// to it that db alone writes meanwhile. That it fails is no reason not to run.
func (s *Schema) NoteHead(ctx context.Context, db *sql.DB, path string) error {
	h := head{Page: make([]byte, pageSize), Tables: map[string]tally{}}
	// What stands in the log only must be in the file before its page is copied.
	if _, err := db.ExecContext(ctx, `PRAGMA wal_checkpoint(PASSIVE)`); err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := io.ReadFull(f, h.Page); err != nil {
		return err
	}
	for _, t := range s.Tables {
		var n tally
		err := db.QueryRowContext(ctx, `SELECT count(*), ifnull(max(id), 0) FROM `+t.Name).Scan(&n.N, &n.Max)
		if err == nil {
			h.Tables[t.Name] = n
		}
	}
	err = Each(ctx, db, func(row *sql.Rows) error {
		var t table
		err := row.Scan(&t.Name, &t.Root, &t.SQL)
		h.Schema = append(h.Schema, t)
		return err
	}, `SELECT name, rootpage, sql FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`)
	if err != nil {
		return err
	}
	text, err := json.Marshal(h)
	if err != nil {
		return err
	}
	return atomicfile.Write(path+headEnd, text, 0o600)
}

// readHead reads the copy; false where there is none that can be used.
func (s *Schema) readHead(path string) (head, bool) {
	var h head
	text, err := os.ReadFile(path + headEnd)
	if err != nil || json.Unmarshal(text, &h) != nil || len(h.Page) != pageSize {
		return h, false
	}
	be := binary.BigEndian
	ours := be.Uint32(h.Page[68:]) == s.AppID && be.Uint32(h.Page[60:]) == uint32(len(s.Migrations))
	return h, ours && string(h.Page[:16]) == "SQLite format 3\x00"
}

// header reads the header of a file.
func header(path string) (now []byte, ok bool) {
	f, err := os.Open(path)
	if err != nil {
		return nil, false
	}
	defer f.Close()
	now = make([]byte, headerEnd)
	_, err = f.ReadAt(now, 0)
	return now, err == nil
}

// sameTables reports whether the tables of a file are those of the copy: the
// number that SQLite raises with each change of them (section 1.3.9, "Schema
// Cookie") is the same. A newer program has changed them; a bit that flips in
// the number of the schema has not.
func sameTables(path string, h head) bool {
	now, ok := header(path)
	return ok && bytes.Equal(now[schemaCookie:schemaCookie+4], h.Page[schemaCookie:schemaCookie+4])
}

// wrongHead says what is wrong with the header of a file whose tables are those of
// the copy: one of the parts that never change is not as it was. SQLite refuses
// such a file, or opens it for reading only, and calls it none the worse.
func wrongHead(path string, h head) string {
	now, ok := header(path)
	if !ok {
		return ""
	}
	for _, part := range [][2]int{{0, changeCounter}, {schemaCookie + 4, validFor}} {
		if !bytes.Equal(now[part[0]:part[1]], h.Page[part[0]:part[1]]) {
			return "its header is not as it was"
		}
	}
	return ""
}

// The parts of the first page that change with each commit, by their place in
// it (SQLite's file format, section 1.3, "The Database Header").
const (
	changeCounter = 24
	fileSize      = 28
	freeTrunk     = 32
	freeCount     = 36
	schemaCookie  = 40
	validFor      = 92
	headerEnd     = 100
)

// putHead writes the first page of the copy over that of a file. Of what changes
// with each commit it keeps what the file has where that can be right. whole
// takes the rows on the page from the copy, too.
func putHead(path string, h head, whole bool) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	page := make([]byte, pageSize)
	if _, err := f.ReadAt(page, 0); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if info.Size() < pageSize {
		return errDamaged
	}
	pages := uint32(info.Size() / pageSize)
	fresh := append([]byte(nil), h.Page...)
	if !whole {
		copy(fresh[headerEnd:], page[headerEnd:])
	}
	be := binary.BigEndian
	trunk, free := be.Uint32(page[freeTrunk:]), be.Uint32(page[freeCount:])
	if trunk > pages || free >= pages || (trunk == 0) != (free == 0) {
		trunk, free = 0, 0
	}
	be.PutUint32(fresh[freeTrunk:], trunk)
	be.PutUint32(fresh[freeCount:], free)
	// The size counts only where these two agree; else the file's own does.
	be.PutUint32(fresh[fileSize:], pages)
	counter := be.Uint32(page[changeCounter:])
	be.PutUint32(fresh[changeCounter:], counter)
	be.PutUint32(fresh[validFor:], counter)
	if _, err := f.WriteAt(fresh, 0); err != nil {
		return err
	}
	return f.Sync()
}

// repair makes a copy of a damaged file whose first page is put right, under
// the name fresh, and reports whether it is sound then. Where it is not, the
// copy is what rows are saved from: a file whose first page or table of tables
// cannot be read gives none.
func (s *Schema) repair(ctx context.Context, path, fresh string, h head) (sound bool, err error) {
	for _, end := range []string{"", "-wal"} {
		if err := copyFile(path+end, fresh+end); err != nil {
			return false, err
		}
	}
	for _, whole := range []bool{false, true} {
		if err := putHead(fresh, h, whole); err != nil {
			return false, nil // it is shorter than a page
		}
		if found, err := s.Inspect(ctx, fresh); err == nil && found == "" {
			return true, nil
		}
		// What only the log has goes into the file before the log is left behind.
		db := Connect(fresh, 1)
		db.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`)
		db.Close()
	}
	return false, putTables(ctx, fresh, h)
}

// putTables gives a file an empty first page and writes again which tables it
// holds and where they begin.
func putTables(ctx context.Context, path string, h head) error {
	if err := removeAll(path+"-wal", path+"-shm"); err != nil {
		return err
	}
	h.Page = append([]byte(nil), h.Page[:headerEnd]...)
	h.Page = append(h.Page, make([]byte, pageSize-headerEnd)...)
	// A leaf of a table without rows (section 1.6, "B-tree Pages").
	h.Page[headerEnd] = 0x0d
	binary.BigEndian.PutUint16(h.Page[headerEnd+5:], pageSize&0xffff)
	h.Page[18], h.Page[19] = 1, 1 // without a log
	if err := putHead(path, h, true); err != nil {
		return err
	}
	db := Connect(path, 1)
	defer db.Close()
	if _, err := db.ExecContext(ctx, `PRAGMA writable_schema = ON`); err != nil {
		return err
	}
	for _, t := range h.Schema {
		_, err := db.ExecContext(ctx, `INSERT INTO sqlite_schema (type, name, tbl_name, rootpage, sql) VALUES ('table', ?, ?, ?, ?)`, t.Name, t.Name, t.Root, t.SQL)
		if err != nil {
			return err
		}
	}
	return nil
}
