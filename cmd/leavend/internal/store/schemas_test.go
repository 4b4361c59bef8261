package store_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/cmd/leavend/internal/store/export"
	"leavend/sensor/sim/simtest"
)

// testdata/schema-N holds a store that the program of that time wrote, and what
// it then exported of it: leavend.db, journal.json and bramble.csv, packed.
// TestWriteSchema is what wrote them. For a new schema, run it with STORE_SCHEMA
// set to that folder once the schema is final; those of schema 1 were written by
// the same function in a checkout of the last commit before schema 2.

func schemaDir(n int) string { return filepath.Join("testdata", "schema-"+strconv.Itoa(n)) }

var oldPhoto = []byte{0xFF, 0xD8, 0xFF, 0xE0, 1, 2, 3}

const oldMessage = "Bramble is on top now."

var epoch = time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)

// board is a clock that a test moves by hand.
type board struct {
	wall   time.Time
	up     time.Duration
	boot   string
	synced bool
}

func (b *board) Now() time.Time        { return b.wall }
func (b *board) Uptime() time.Duration { return b.up }
func (b *board) Boot() string          { return b.boot }
func (b *board) Synced() bool          { return b.synced }
func (b *board) pass(d time.Duration)  { b.wall, b.up = b.wall.Add(d), b.up+d }

func open(t *testing.T, path string, clock store.Clock) *store.Store {
	t.Helper()
	s, report, err := store.Open(t.Context(), path, store.Opts{Clock: clock})
	if err != nil || !report.OK() {
		t.Fatal(report, err)
	}
	return s
}

// latestSchema is that of a new file.
func latestSchema(t *testing.T) (n int) {
	t.Helper()
	s := open(t, filepath.Join(t.TempDir(), "new.db"), &board{wall: epoch, boot: "boot 1"})
	defer s.Close()
	if err := dbfile.Connect(s.Path(), 1).QueryRow(`PRAGMA user_version`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestOldSchemas opens a store of every schema that ever was: nothing of it may
// be lost or read differently.
func TestOldSchemas(t *testing.T) {
	simtest.NotUnderRace(t)
	for n := range latestSchema(t) {
		n++
		t.Run(strconv.Itoa(n), func(t *testing.T) {
			ctx, path := t.Context(), filepath.Join(t.TempDir(), "leavend.db")
			if err := os.WriteFile(path, unpacked(t, n, "leavend.db"), 0o600); err != nil {
				t.Fatal(err)
			}
			var version int
			db := dbfile.Connect(path, 1)
			if err := db.QueryRow(`PRAGMA user_version`).Scan(&version); err != nil || version != n {
				t.Fatalf("it has schema %d, %v; want %d", version, err, n)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			w := &board{wall: epoch.AddDate(3, 0, 0), up: 20 * time.Second, boot: "years later", synced: true}
			s := open(t, path, w)
			defer s.Close()
			var csv, journal bytes.Buffer
			if _, err := export.Recording(ctx, s, &csv, "Bramble", time.UnixMilli(0), time.UnixMilli(1<<52)); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(unpacked(t, n, "bramble.csv")), csv.String()); diff != "" {
				t.Errorf("readings (-then +now): %.2000s", diff)
			}
			if err := export.Journal(ctx, s, &journal, store.Query{}, w.Now()); err != nil {
				t.Fatal(err)
			}
			now := lists(t, journal.Bytes())
			for name, then := range lists(t, unpacked(t, n, "journal.json")) {
				if name == "faults" {
					continue // only this test ever wrote them
				}
				if len(then) == 0 && name != "discards" && name != "starters" {
					t.Errorf("nothing of %s was written, so nothing is shown", name)
				}
				if diff := cmp.Diff(then, now[name]); diff != "" {
					t.Errorf("%s (-then +now): %.2000s", name, diff)
				}
			}
			var state map[string]int
			if ok, err := s.States.State(ctx, "mat", &state); !ok || err != nil || state["latched"] != 1 {
				t.Errorf("the mat's state: %v, %v, %v", state, ok, err)
			}
			bakes, err := s.Journal.Bakes(ctx, store.Query{})
			if err != nil || len(bakes) != 1 {
				t.Fatalf("%d bakes, %v", len(bakes), err)
			}
			if kind, data, err := s.Journal.Photo(ctx, bakes[0].ID); err != nil || kind != "image/jpeg" || !bytes.Equal(data, oldPhoto) {
				t.Errorf("the photo: %q, %v, %v", kind, data, err)
			}
			held, err := s.EventLog.LoadLog(ctx)
			if err != nil || len(held.Records) != 1 || held.Records[0].To != "phone" || held.Seq != held.Records[0].Seq {
				t.Fatalf("the event log: %+v, %v", held, err)
			}
			var notice struct{ Kind, Vessel, Text string }
			if err := json.Unmarshal(held.Records[0].Body, &notice); err != nil || notice.Kind != "top" || notice.Vessel != "Bramble" || notice.Text != oldMessage {
				t.Errorf("the waiting message is %s: %v", held.Records[0].Body, err)
			}
			// And it is written on.
			if _, err := s.Journal.AddFeed(ctx, store.Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
				t.Error("a feed today:", err)
			}
			if found, err := dbfile.QuickCheck(ctx, dbfile.Connect(path, 1)); found != "" || err != nil {
				t.Error("quick check:", found, err)
			}
		})
	}
}

// lists reads the lists of an exported journal.
func lists(t *testing.T, journal []byte) map[string][]any {
	t.Helper()
	var parts map[string]any
	if err := json.Unmarshal(journal, &parts); err != nil {
		t.Fatal(err)
	}
	all := map[string][]any{}
	for name, part := range parts {
		if list, ok := part.([]any); ok {
			all[name] = list
		}
	}
	return all
}

func unpacked(t *testing.T, n int, name string) []byte {
	t.Helper()
	f, err := os.Open(filepath.Join(schemaDir(n), name+".gz"))
	if err != nil {
		t.Fatalf("%v; every schema needs its folder, see TestWriteSchema", err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// TestWriteSchema writes a store with something of everything into the folder
// that STORE_SCHEMA names.
func TestWriteSchema(t *testing.T) {
	dir := os.Getenv("STORE_SCHEMA")
	if dir == "" {
		t.Skip("writes a folder of testdata when STORE_SCHEMA names it")
	}
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "leavend.db")
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	w := &board{wall: epoch, up: time.Hour, boot: "boot 1", synced: true}
	s := open(t, path, w)
	days := func(n int) {
		for i := range n * 24 * 60 { // a reading a minute
			s.Readings.Add(store.Reading{Vessel: "Bramble", Channel: store.Distance, At: w.Now(), Value: 150 - float64(i%700)/12})
			s.Readings.Add(store.Reading{Vessel: "Bramble", Channel: store.Warmth, At: w.Now(), Value: 25 + float64(i%50)/100})
			s.Readings.Add(store.Reading{Vessel: "Bramble", Channel: "co2_ppm", At: w.Now(), Value: 400 + float64(i%300)})
			w.pass(time.Minute)
			if i%240 == 0 {
				must(s.Readings.Flush(ctx))
			}
		}
	}
	var fed []store.Feed
	for range 4 {
		f, err := s.Journal.AddFeed(ctx, store.Feed{Vessel: "Bramble", At: w.Now(), KeptG: 20, Flours: []store.Flour{{"wheat", 40}, {"rye", 10}}, WaterG: 50, DiscardG: 80, CleanJar: true, Note: "smelt of apples"})
		must(err)
		fed = append(fed, f)
		days(1)
	}
	fed[1].WaterG = 60
	must(s.Journal.CorrectFeed(ctx, fed[1]))
	must(s.Journal.UndoFeed(ctx, fed[2].ID))
	_, err := s.Journal.AddEvent(ctx, store.Event{Vessel: "Bramble", At: w.Now(), Kind: "peak", Data: json.RawMessage(`{"text":"on top"}`)})
	must(err)
	_, err = s.Journal.AddForecast(ctx, store.Forecast{Vessel: "Bramble", At: w.Now(), Feed: fed[3].ID, Peak: w.Now().Add(time.Hour), Low: w.Now(), High: w.Now().Add(2 * time.Hour), RiseRatio: 2.1})
	must(err)
	bake, err := s.Journal.AddBake(ctx, store.Bake{Vessel: "Bramble", At: w.Now(), Stars: 4, Note: "open crumb"})
	must(err)
	must(s.Journal.SetPhoto(ctx, bake.ID, "image/jpeg", oldPhoto))
	_, err = s.Journal.AddCurve(ctx, store.Curve{Vessel: "Bramble", At: fed[3].At, Feed: fed[3].ID, Data: json.RawMessage(`{"rise_mm":60}`)})
	must(err)
	for _, c := range []float64{24, 26} {
		must(s.States.SetSetting(ctx, "setpoint", c))
	}
	must(s.States.SetState(ctx, "mat", map[string]int{"latched": 1}))
	notice, err := json.Marshal(map[string]any{"kind": "top", "vessel": "Bramble", "text": oldMessage, "at": w.Now()})
	must(err)
	must(s.EventLog.SaveLog(ctx, event.Saved{Number: 1, Records: []event.Record{{Seq: 1, To: "phone", Body: notice}}}))
	_, err = s.Copies.Import(ctx, "Bramble", "an older recording", func(yield func(store.ImportRow, error) bool) {
		for i := range 600 {
			at := epoch.AddDate(0, -2, 0).Add(time.Duration(i) * time.Minute)
			if !yield(store.ImportRow{At: at, Values: map[store.Channel]float64{store.Distance: 140 - float64(i)/20, store.Warmth: 22}, Fed: i == 0}, nil) {
				return
			}
		}
	})
	must(err)
	// A boot whose clock was wrong for an hour.
	must(s.Close())
	w = &board{wall: time.Date(1970, 1, 1, 0, 0, 20, 0, time.UTC), up: 20 * time.Second, boot: "boot 2"}
	s = open(t, path, w)
	days(1)
	w.wall, w.synced = epoch.AddDate(0, 0, 8), true
	must(s.Readings.Flush(ctx))
	days(1)
	must(s.Readings.Flush(ctx))
	var csv, journal bytes.Buffer
	_, err = export.Recording(ctx, s, &csv, "Bramble", time.UnixMilli(0), time.UnixMilli(1<<52))
	must(err)
	must(export.Journal(ctx, s, &journal, store.Query{}, w.Now()))
	must(s.Close())
	file, err := os.ReadFile(path)
	must(err)
	must(os.MkdirAll(dir, 0o755))
	for name, text := range map[string][]byte{"leavend.db": file, "journal.json": journal.Bytes(), "bramble.csv": csv.Bytes()} {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		must(err)
		_, err = z.Write(text)
		must(err)
		must(z.Close())
		must(os.WriteFile(filepath.Join(dir, name+".gz"), b.Bytes(), 0o644))
	}
	fmt.Println("written:", dir)
}
