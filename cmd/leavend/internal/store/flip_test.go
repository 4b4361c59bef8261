package store

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/sensor/sim/simtest"
)

// flips is how many stores TestFlippedBits spoils: 300 with LEAVEND_LONG=1.
func flips() int {
	if campaign.Long() {
		return 300
	}
	return 12
}

// weekStore makes a closed store of two jars and a week, with a backup of all but
// its last day.
func weekStore(t *testing.T, w *handClock) (path, backups string) {
	t.Helper()
	dir := t.TempDir()
	path, backups = filepath.Join(dir, "leavend.db"), filepath.Join(dir, "backups")
	s := reopen(t, path, w)
	s.Readings.blockMS = minuteMS
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	l, _, _ := openLog(t, s)
	for day := range 7 {
		for n := range 6 {
			f, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now(), KeptG: float64(10 * n), Note: fmt.Sprintf("day %d, lively, smelt of apples", day)})
			must(err)
			if n == 3 {
				must(s.Journal.CorrectFeed(t.Context(), f))
			}
			must(l.Commit(t.Context(), peaked(w, n)))
			_, err = s.Journal.AddBake(t.Context(), Bake{Vessel: "Bramble", At: w.Now(), Stars: 4})
			must(err)
			must(s.States.SetSetting(t.Context(), fmt.Sprintf("setpoint-%d", n), 20+day))
			must(s.States.SetState(t.Context(), fmt.Sprintf("mat-%d", n), map[string]int{"switches": day * n}))
			fill(s, w, "Bramble", 700)
			fill(s, w, "Pilot", 700)
			flush(t, s)
		}
		if day == 5 {
			_, err := s.Copies.BackupDay(t.Context(), backups, w.Now(), BackupOpts{Keep: 3, Small: true})
			must(err)
		}
	}
	must(s.Close())
	return path, backups
}

// counts returns how many rows each table holds.
func counts(t *testing.T, path string) map[string]int {
	t.Helper()
	db := dbfile.Connect(path, 1, "query_only(1)")
	defer db.Close()
	all := map[string]int{}
	for _, table := range schema.Tables {
		var n int
		if err := db.QueryRow(`SELECT count(*) FROM ` + table.Name + ` NOT INDEXED`).Scan(&n); err == nil {
			all[table.Name] = n
		}
	}
	return all
}

// TestFlippedBits flips 1 to 200 bits anywhere in a store, again and again from
// the sound one, half of the times beside a backup. Each must start. What is
// missing afterwards must be what the report says; with a backup nothing may be
// missing that was in it; and the store must work.
func TestFlippedBits(t *testing.T) {
	simtest.NotUnderRace(t)
	w := newHandClock()
	path, backups := weekStore(t, w)
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, err := os.ReadFile(path + ".head")
	if err != nil {
		t.Fatal(err)
	}
	before := counts(t, path)
	names, err := dbfile.Nights(backups)
	if err != nil || len(names) != 1 {
		t.Fatal(names, err)
	}
	kept := counts(t, filepath.Join(backups, names[0]))
	rng := rand.New(rand.NewPCG(11, 12))
	var sum struct{ untouched, repaired, salvaged, aside, lost, back, had int }
	for i := range flips() {
		dir := t.TempDir()
		file := filepath.Join(dir, "leavend.db")
		spoilt := append([]byte(nil), sound...)
		n := 1 + rng.IntN(200)
		header := i%5 == 0 // one of five has bits wrong in its header only, the rest anywhere
		if header {
			n = 1 + rng.IntN(20)
			flip(spoilt[:100], rng, n)
		} else {
			flip(spoilt, rng, n)
		}
		for name, text := range map[string][]byte{file: spoilt, file + ".head": head} {
			if err := os.WriteFile(name, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		opts := Opts{Clock: w}
		if i%2 == 1 {
			opts.Backups = backups
		}
		s, report, err := Open(t.Context(), file, opts)
		if err != nil {
			t.Errorf("store %d with %d bits flipped does not start: %v", i, n, err)
			continue
		}
		if err := s.checkReadings(t.Context()); err != nil {
			t.Errorf("store %d: %v", i, err)
		}
		after := counts(t, file)
		if header && (after["block"] != before["block"] || after["entry"] != before["entry"] || after["kept"] != before["kept"]) {
			t.Errorf("store %d with %d bits of its header flipped lost rows: %v", i, n, report)
		}
		aside := map[string]int{}
		for _, b := range report.Aside {
			aside[b.Table]++
		}
		for _, table := range []string{"entry", "kept", "rollup", "block", "vessel"} {
			missing := before[table] - after[table]
			said := report.Lost[table] + aside[table] - report.Filled.Rows[table]
			// Rollups are worked out again from readings, and a vessel whose name is
			// lost gets a stand-in; of those fewer may be missing.
			if missing != said && !(missing <= said && (table == "rollup" || table == "vessel")) {
				t.Errorf("store %d with %d bits flipped: of %s %d rows are missing, and the report says %d lost, %d aside, %d back", i, n, table, missing, report.Lost[table], aside[table], report.Filled.Rows[table])
			}
			alike := 0 // a bit may make the name of one state that of another
			if table == "kept" {
				alike = 1
			}
			if report.Filled.Backup != "" && after[table] < kept[table]-aside[table]-alike {
				t.Errorf("store %d: of %s there are %d rows, and the backup has %d", i, table, after[table], kept[table])
			}
			sum.lost += max(0, missing)
			sum.had += before[table]
			sum.back += report.Filled.Rows[table]
		}
		switch {
		case report.Repaired:
			sum.repaired++
		case !report.OK():
			sum.salvaged++
		default:
			sum.untouched++
		}
		sum.aside += len(report.Aside)
		works(t, i, s, w)
	}
	t.Logf("%d stores of %.1f MB: %d sound to SQLite, %d with the first page put right, %d saved row by row; %d rows set aside, %d came back from the backup, %d of %d are lost; all of it was told",
		flips(), float64(len(sound))/1e6, sum.untouched, sum.repaired, sum.salvaged, sum.aside, sum.back, sum.lost, sum.had)
}

// flip flips bits anywhere in a text.
func flip(text []byte, rng *rand.Rand, n int) {
	for range n {
		at := rng.IntN(len(text) * 8)
		text[at/8] ^= 1 << (at % 8)
	}
}

// works uses a store that was damaged as a day of the daemon does.
func works(t *testing.T, i int, s *Store, w *handClock) {
	t.Helper()
	ctx := t.Context()
	defer s.Close()
	for name, read := range map[string]func() error{
		"feeds":    func() error { _, err := s.Journal.Feeds(ctx, Query{}); return err },
		"events":   func() error { _, err := s.Journal.Events(ctx, Query{}); return err },
		"bakes":    func() error { _, err := s.Journal.Bakes(ctx, Query{}); return err },
		"settings": func() error { _, err := s.States.Settings(ctx); return err },
		"window": func() error {
			_, err := s.Readings.Window(ctx, "Bramble", epoch, epoch.AddDate(0, 0, 9), 500)
			return err
		},
		"readings": func() error {
			for _, err := range s.Readings.ReadingsSince(ctx, "Bramble", epoch) {
				if err != nil {
					return err
				}
			}
			return nil
		},
		"a feed":    func() error { _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); return err },
		"a reading": func() error { s.Readings.Add(Reading{"Bramble", Distance, w.Now(), 100}); return s.Readings.Flush(ctx) },
		"an event": func() error {
			l, err := event.OpenLog(ctx, s.EventLog)
			if err != nil {
				return err
			}
			c := peaked(w, 1)
			c.Records[0].Expires = time.Time{}
			return l.Commit(ctx, c)
		},
	} {
		if err := read(); err != nil {
			t.Errorf("store %d: %s: %v", i, name, err)
		}
	}
}
