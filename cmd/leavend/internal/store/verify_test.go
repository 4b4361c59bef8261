package store

import (
	"encoding/json"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/sensor/sim/simtest"
	"strings"
	"testing"
	"time"
)

// TestBadRows spoils one column of one row of each table, as a bit that flips on
// the card does. Each start after that must find the rest, and say so once.
func TestBadRows(t *testing.T) {
	simtest.NotUnderRace(t)
	tests := []struct{ name, spoil string }{
		{"an event's body", `UPDATE entry SET body = '{"kind":"pe' WHERE kind = 'event'`},
		{"an event's kind", `UPDATE entry SET kind = 'avent' WHERE kind = 'event'`},
		{"an event's time", `UPDATE entry SET t = 1 << 61 WHERE kind = 'event'`},
		{"a feed's body is of another type", `UPDATE entry SET body = '{"source":7}' WHERE kind = 'feed' AND id = (SELECT max(id) FROM entry WHERE kind = 'feed')`},
		{"a setting", `UPDATE kept SET value = '26.5.' WHERE name LIKE 'setting/%'`},
		{"a state's name", `UPDATE kept SET name = 'state' WHERE name LIKE 'state/%'`},
		{"a message", `UPDATE log SET body = '{"kind":'`},
		{"a revision", `UPDATE revision SET body = ''`},
		{"a vessel's name", `UPDATE vessel SET name = x'ff'`},
		{"a clock", `UPDATE clock SET shift = 1 << 60`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newHandClock()
			path, rs, feeds := wholeStore(t, w)
			db := dbfile.Connect(path, 1)
			// A flipped bit asks no STRICT for leave.
			for _, q := range []string{`PRAGMA writable_schema = ON`, `UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ')')`, `PRAGMA writable_schema = RESET`, tt.spoil} {
				if _, err := db.Exec(q); err != nil {
					t.Fatal(err)
				}
			}
			db.Close()
			s, report, err := Open(t.Context(), path, Opts{Clock: w})
			if err != nil {
				t.Fatal(err)
			}
			if !report.OK() || len(report.Aside) != 1 || !strings.Contains(report.String(), "1 row of the history could not be read") {
				t.Errorf("the report says %s", report)
			}
			var aside int
			if err := s.file.r.QueryRow(`SELECT count(*) FROM aside`).Scan(&aside); err != nil || aside != 1 {
				t.Errorf("%d rows are kept aside, %v", aside, err)
			}
			got, err := s.Journal.Feeds(t.Context(), Query{})
			if err != nil || len(got) < feeds-1 {
				t.Errorf("%d feeds of %d, %v", len(got), feeds, err)
			}
			if _, err := s.Journal.Events(t.Context(), Query{}); err != nil {
				t.Error(err)
			}
			n := 0
			names, err := s.Readings.Vessels(t.Context())
			if err != nil || len(names) != 1 {
				t.Fatalf("vessels %q, %v", names, err)
			}
			for _, err := range s.Readings.ReadingsSince(t.Context(), names[0], time.UnixMilli(0)) {
				if err != nil {
					t.Fatal(err)
				}
				n++
			}
			if n != len(rs) {
				t.Errorf("%d readings of %d", n, len(rs))
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			s, report, err = Open(t.Context(), path, Opts{Clock: w})
			if err != nil || !report.OK() || len(report.Aside) != 0 {
				t.Errorf("the next start: %v, %v", report, err)
			}
			s.Close()
		})
	}
}

// A row that is set aside comes back from the newest backup, as it was there.
func TestBadRowComesBack(t *testing.T) {
	w := newHandClock()
	path, _, feeds := wholeStore(t, w)
	backups := t.TempDir()
	s := reopen(t, path, w)
	if _, err := s.Copies.BackupDay(t.Context(), backups, w.Now(), BackupOpts{Keep: 1, Small: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.file.w.Exec(`UPDATE entry SET body = '{' WHERE kind = 'feed' AND id < 9`); err != nil {
		t.Fatal(err)
	}
	s.Close()
	s, report, err := Open(t.Context(), path, Opts{Clock: w, Backups: backups})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := s.Journal.Feeds(t.Context(), Query{})
	if err != nil || len(got) != feeds || len(report.Aside) != 8 || report.Filled.Rows["entry"] != 8 || !strings.Contains(report.String(), "is back") {
		t.Errorf("%d feeds of %d, %v; %v", len(got), feeds, err, report)
	}
}

// What goes bad while the program runs is skipped and counted.
func TestRowThatGoesBad(t *testing.T) {
	s, w := newTestStore(t)
	for range 3 {
		if _, err := s.Journal.AddEvent(t.Context(), Event{Vessel: "Bramble", At: w.Now(), Kind: "peak", Data: json.RawMessage(`{}`)}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.file.w.Exec(`UPDATE entry SET body = '{' WHERE id = 2`); err != nil {
		t.Fatal(err)
	}
	all, err := s.Journal.Events(t.Context(), Query{})
	if st := s.Stats(); err != nil || len(all) != 2 || st.BadRows != 1 || st.BadRow.ID != 2 {
		t.Errorf("%d events, %v; %+v", len(all), err, st)
	}
}

// Verify reads each row, readings too.
func TestVerify(t *testing.T) {
	w := newHandClock()
	path, _, _ := wholeStore(t, w)
	s := reopen(t, path, w)
	defer s.Close()
	bad := func() (all []BadRow, rows int) {
		t.Helper()
		rows, err := s.Copies.Verify(t.Context(), func(b BadRow) { all = append(all, b) })
		if err != nil {
			t.Fatal(err)
		}
		return all, rows
	}
	if all, rows := bad(); len(all) != 0 || rows < 60 {
		t.Errorf("of a sound store: %v, %d rows", all, rows)
	}
	for _, q := range []string{`UPDATE block SET n = n + 1 WHERE id = 3`, `UPDATE block SET data = x'ff' WHERE id = 4`, `UPDATE rollup SET data = x'ffff01' WHERE id = 1`} {
		if _, err := s.file.w.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if all, _ := bad(); len(all) != 3 {
		t.Errorf("found %v, want three", all)
	}
}
