package dbfile

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// jars is an invented schema: jars, and the feeds of each.
var jars = &Schema{
	AppID: 0x6a617273,
	Migrations: []string{
		`CREATE TABLE jar (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;`,
		`CREATE TABLE feed (id INTEGER PRIMARY KEY, jar INTEGER NOT NULL, note TEXT NOT NULL) STRICT; CREATE INDEX feed_jar ON feed (jar);
		CREATE TABLE aside (id INTEGER PRIMARY KEY, origin TEXT NOT NULL, row INTEGER NOT NULL, why TEXT NOT NULL, made INTEGER NOT NULL, data TEXT NOT NULL) STRICT;`,
	},
	Tables:   []Table{{Name: "jar", Says: "jars", Filled: true, Small: true}, {Name: "feed", Says: "feeds", Filled: true}, {Name: "aside", Churns: true}},
	StandIns: `INSERT OR IGNORE INTO jar (id, name) SELECT DISTINCT jar, 'lost ' || jar FROM feed`,
	Found:    `DELETE FROM main.jar WHERE name LIKE 'lost %' AND id IN (SELECT id FROM backup.jar)`,
	Others:   `SELECT count(*) FROM backup.jar b JOIN main.jar j ON j.id = b.id WHERE b.name <> j.name AND j.name NOT LIKE 'lost %'`,
}

const feeds = 400

// fullFile makes a file of two jars and their feeds, with a copy of its first page.
func fullFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "jars.db")
	db := Connect(path, 1, "journal_mode(WAL)")
	err := errors.Join(jars.Migrate(t.Context(), db, len(jars.Migrations)), Within(t.Context(), db, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO jar (name) VALUES ('Bramble'), ('Pilot')`)
		for i := 0; i < feeds && err == nil; i++ {
			_, err = tx.Exec(`INSERT INTO feed (jar, note) VALUES (?, ?)`, 1+i%2, fmt.Sprintf("feed %d: %s", i, strings.Repeat("lively ", 20)))
		}
		return err
	}), jars.NoteHead(t.Context(), db, path), db.Close())
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func count(t *testing.T, path, table string) (n int) {
	t.Helper()
	db := Connect(path, 1)
	defer db.Close()
	if err := db.QueryRow(`SELECT count(*) FROM ` + table).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// The places in the first page are those of SQLite's file format, section 1.3
// ("The Database Header"): SQLite itself says the same by its pragmas.
func TestHeaderPlaces(t *testing.T) {
	path := fullFile(t)
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db := Connect(path, 1)
	defer db.Close()
	for pragma, at := range map[string]int{"page_count": fileSize, "freelist_count": freeCount, "schema_version": schemaCookie, "user_version": 60, "application_id": 68} {
		var want uint32
		if err := db.QueryRow(`PRAGMA ` + pragma).Scan(&want); err != nil {
			t.Fatal(err)
		}
		if got := binary.BigEndian.Uint32(page[at:]); got != want {
			t.Errorf("at %d there is %d, and %s is %d", at, got, pragma, want)
		}
	}
	if got := binary.BigEndian.Uint16(page[16:]); got != pageSize || string(page[:16]) != "SQLite format 3\x00" {
		t.Errorf("a page has %d bytes, %q", got, page[:16])
	}
	if binary.BigEndian.Uint32(page[validFor:]) != binary.BigEndian.Uint32(page[changeCounter:]) {
		t.Error("what the version is valid for is not the change counter")
	}
}

// TestEachByteOfTheHeader inverts each byte of the header in turn. Whatever SQLite
// thinks of the file, no row may be lost.
func TestEachByteOfTheHeader(t *testing.T) {
	path := fullFile(t)
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, err := os.ReadFile(path + headEnd)
	if err != nil {
		t.Fatal(err)
	}
	mended := 0
	for i := range headerEnd {
		file := filepath.Join(t.TempDir(), "jars.db")
		spoilt := slices.Clone(sound)
		spoilt[i] ^= 0xff
		if err := errors.Join(os.WriteFile(file, spoilt, 0o600), os.WriteFile(file+headEnd, head, 0o600)); err != nil {
			t.Fatal(err)
		}
		report, err := jars.Mend(t.Context(), file, "")
		if err != nil {
			if i >= schemaCookie && i < schemaCookie+4 {
				continue // it may be the file of another program
			}
			t.Errorf("byte %d: %v", i, err)
			continue
		}
		if report.Repaired {
			mended++
		}
		if n := count(t, file, "feed"); n != feeds {
			t.Errorf("byte %d: %d of %d feeds are there; %v", i, n, feeds, report)
		}
	}
	t.Logf("%d of %d were put right from the copy", mended, headerEnd)
}

// TestMendTellsWhatIsLost overwrites one page in the middle, with and without a
// backup.
func TestMendTellsWhatIsLost(t *testing.T) {
	for _, backup := range []bool{false, true} {
		path, dir := fullFile(t), t.TempDir()
		db := Connect(path, 1)
		if backup {
			if _, err := (Source{jars, path, db}).Nightly(t.Context(), dir, time.Now(), 1, nil); err != nil {
				t.Fatal(err)
			}
		}
		var page int64
		err := errors.Join(db.QueryRow(`SELECT pageno FROM dbstat WHERE name = 'feed' AND pagetype = 'leaf' LIMIT 1 OFFSET 5`).Scan(&page), db.Close())
		if err != nil {
			t.Fatal(err)
		}
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err == nil {
			_, err = f.WriteAt(make([]byte, pageSize), (page-1)*pageSize)
		}
		if err = errors.Join(err, f.Close()); err != nil {
			t.Fatal(err)
		}
		report, err := jars.Mend(t.Context(), path, dir)
		if err != nil {
			t.Fatal(err)
		}
		there, lost, back := count(t, path, "feed"), report.Lost["feed"], report.Filled.Rows["feed"]
		if lost == 0 || lost > 60 || there != feeds-lost+back || backup != (back == lost) {
			t.Errorf("backup %v: %d feeds are there; %d lost, %d back: %v", backup, there, lost, back, report)
		}
		if text := report.String(); !strings.Contains(text, fmt.Sprintf("feeds: %d saved, %d lost", feeds-lost, lost)) || !strings.Contains(text, report.SetAside) {
			t.Errorf("it says %q", text)
		}
	}
}

// TestNightsStay keeps so many nights, and nothing that is named otherwise goes.
func TestNightsStay(t *testing.T) {
	path, dir := fullFile(t), t.TempDir()
	db := Connect(path, 1)
	defer db.Close()
	others := []string{"leavend-2026-11-01.db.part", "leavend-2026-13-01.db", "leavend.db", "notes.txt"}
	for _, name := range others {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for day := range 5 {
		at := time.Date(2026, 11, 25+day, 3, 0, 0, 0, time.UTC)
		if _, err := (Source{jars, path, db}).Nightly(t.Context(), dir, at, 2, nil); err != nil {
			t.Fatal(err)
		}
	}
	names, err := Nights(dir)
	if want := []string{"leavend-2026-11-28.db", "leavend-2026-11-29.db"}; err != nil || !slices.Equal(names, want) {
		t.Errorf("%v, %v, want %v", names, err, want)
	}
	if _, err := os.Stat(filepath.Join(dir, others[0])); !errors.Is(err, os.ErrNotExist) {
		t.Error("what a power cut left is still there")
	}
	for _, name := range others[1:] {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Error(err)
		}
	}
}

// TestRowsAside moves a row out of the way; its values can be inserted again.
func TestRowsAside(t *testing.T) {
	path := fullFile(t)
	db := Connect(path, 1)
	defer db.Close()
	bad := []BadRow{{Table: "feed", ID: 7, Why: errors.New("its note is no text")}}
	if err := SetRowsAside(t.Context(), db, bad, time.Now()); err != nil {
		t.Fatal(err)
	}
	var origin, data string
	if err := db.QueryRow(`SELECT origin, data FROM aside WHERE row = 7`).Scan(&origin, &data); err != nil || origin != "feed" {
		t.Fatal(origin, err)
	}
	if _, err := db.Exec(`INSERT INTO feed VALUES (` + data + `)`); err != nil {
		t.Errorf("%s: %v", data, err)
	}
	if n := count(t, path, "feed"); n != feeds {
		t.Errorf("%d feeds, want %d", n, feeds)
	}
}

// A query that fails in the middle of its answer gives what it says.
func TestEachEndsWithTheFirstError(t *testing.T) {
	db := Connect(fullFile(t), 1)
	defer db.Close()
	stop, n := errors.New("enough"), 0
	err := Each(context.Background(), db, func(*sql.Rows) error {
		if n++; n == 3 {
			return stop
		}
		return nil
	}, `SELECT id FROM feed`)
	if !errors.Is(err, stop) || n != 3 {
		t.Errorf("%v after %d rows", err, n)
	}
	if names, err := Column[string](context.Background(), db, `SELECT name FROM jar ORDER BY name`); err != nil || !slices.Equal(names, []string{"Bramble", "Pilot"}) {
		t.Errorf("%v, %v", names, err)
	}
}
