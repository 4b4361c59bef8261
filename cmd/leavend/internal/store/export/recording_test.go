package export

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"iter"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/store"
	"leavend/sensor/recording"
)

var epoch = time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)

// newStore makes a store whose clock stands at now.
func newStore(t *testing.T, now *time.Time) *store.Store {
	t.Helper()
	*now = epoch
	s, _, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "leavend.db"), store.Opts{Clock: store.SteadyClock(func() time.Time { return *now }, "boot 1")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// fill adds n readings of each of two channels, 10 s apart, each unlike any other,
// and moves the clock along.
func fill(s *store.Store, now *time.Time, vessel string, n int) (all []store.Reading) {
	for i := range n {
		for _, r := range []store.Reading{
			{Vessel: vessel, Channel: store.Distance, At: *now, Value: math.Round(1400-float64(i%900)) / 10},
			{Vessel: vessel, Channel: store.Warmth, At: now.Add(time.Second), Value: 24 + float64(i%160)*0.0625},
		} {
			s.Readings.Add(r)
			all = append(all, r)
		}
		*now = now.Add(10 * time.Second)
	}
	return all
}

// rowsOf reads a recording back with the project's own reader.
func rowsOf(t *testing.T, data []byte) []recording.Row {
	t.Helper()
	r, err := recording.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	var rows []recording.Row
	for {
		row, err := r.Next()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
	}
}

// importOf hands rows to Import as the command does.
func importOf(rows []recording.Row) iter.Seq2[store.ImportRow, error] {
	return func(yield func(store.ImportRow, error) bool) {
		for _, r := range rows {
			row := store.ImportRow{At: r.At, Fed: r.Note == recording.Fed, Values: map[store.Channel]float64{store.Distance: r.DistanceMM, store.Warmth: r.TempC}}
			if !yield(row, nil) {
				return
			}
		}
	}
}

func TestExportIsARecording(t *testing.T) {
	var now time.Time
	s := newStore(t, &now)
	ctx := t.Context()
	s.Journal.AddFeed(ctx, store.Feed{Vessel: "Bramble", At: epoch})
	want := fill(s, &now, "Bramble", 300)
	s.Readings.Add(store.Reading{Vessel: "Bramble", Channel: store.MatTemp, At: now, Value: 31.25})
	s.Readings.Add(store.Reading{Vessel: "Bramble", Channel: store.MatOn, At: now, Value: 1})
	s.Readings.Flush(ctx)
	s.Journal.AddFeed(ctx, store.Feed{Vessel: "Bramble", At: now, Source: store.Found})
	fill(s, &now, "Pilot", 3)

	var b bytes.Buffer
	n, err := Recording(ctx, s, &b, "Bramble", epoch, epoch.Add(24*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	rows := rowsOf(t, b.Bytes())
	if len(rows) != n || n != 300+1+2 {
		t.Fatalf("%d rows, said %d, want 303\n%s", len(rows), n, b.String())
	}
	if rows[0].Note != recording.Fed || !rows[0].At.Equal(epoch) {
		t.Errorf("first row %+v is not the feed", rows[0])
	}
	for i, row := range rows[1:301] {
		d, c := want[2*i], want[2*i+1]
		if !row.At.Equal(d.At) || row.DistanceMM != d.Value || row.TempC != c.Value {
			t.Fatalf("row %d: %+v, want %v and %v", i, row, d, c)
		}
	}
	var marked, found int
	for _, row := range rows {
		switch row.Note {
		case recording.Fed:
			marked++
		case "found":
			found++
		}
	}
	if marked != 1 || found != 1 {
		t.Errorf("%d fed, %d found, want one each", marked, found)
	}
	if !bytes.HasPrefix(b.Bytes(), []byte("time,distance_mm,temperature_c,note,mat,mat_c,mean_of\n")) {
		t.Errorf("header: %.80s", b.String())
	}
	if !bytes.Contains(b.Bytes(), []byte(",on,31.25,\n")) {
		t.Error("mat and its temperature are missing")
	}
}

// TestImportOfAnExport sends a vessel's past through a recording into another
// store; the same stands there.
func TestImportOfAnExport(t *testing.T) {
	var now, later time.Time
	a := newStore(t, &now)
	a.Journal.AddFeed(t.Context(), store.Feed{Vessel: "Bramble", At: epoch})
	want := fill(a, &now, "Bramble", 5000)
	var csv bytes.Buffer
	if _, err := Recording(t.Context(), a, &csv, "Bramble", epoch, now); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf(t, csv.Bytes())

	b := newStore(t, &later)
	later = now
	cut := func(yield func(store.ImportRow, error) bool) {
		for row, err := range importOf(rows[:4500]) {
			if !yield(row, err) {
				return
			}
		}
		yield(store.ImportRow{}, io.ErrUnexpectedEOF)
	}
	if _, err := b.Copies.Import(t.Context(), "Pilot", "one", cut); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Fatalf("a torn recording: %v", err)
	}
	done, err := b.Copies.Import(t.Context(), "Pilot", "one", importOf(rows))
	if diff := cmp.Diff(store.Imported{Rows: 5001, Readings: 10000, Feeds: 1}, done); diff != "" || err != nil {
		t.Fatal(err, "(-want +got):", diff)
	}
	if _, err := b.Copies.Import(t.Context(), "Pilot", "one", importOf(rows)); !errors.Is(err, store.ErrImported) {
		t.Errorf("a second import: %v", err)
	}
	got := map[store.Sample]bool{}
	err = b.Readings.Samples(t.Context(), "Pilot", epoch, now, func(s store.Sample) error { got[s] = true; return nil })
	if err != nil || len(got) != len(want) {
		t.Fatal(len(got), err)
	}
	for i, r := range want {
		at := r.At
		if r.Channel == store.Warmth { // stands in the row of the distance
			at = want[i-1].At
		}
		if !got[store.Sample{At: at, Channel: r.Channel, Value: r.Value}] {
			t.Fatalf("%v is missing", r)
		}
	}
	if feeds, err := b.Journal.Feeds(t.Context(), store.Query{Vessel: "Pilot"}); err != nil || len(feeds) != 1 || !feeds[0].At.Equal(epoch) {
		t.Errorf("feeds = %v, %v", feeds, err)
	}
}

func TestExportOfThinnedReadings(t *testing.T) {
	var now time.Time
	s, ctx := newStore(t, &now), t.Context()
	fill(s, &now, "Bramble", 3000)
	s.Readings.Flush(ctx)
	now = now.AddDate(0, 0, 100)
	fill(s, &now, "Bramble", 3000)
	s.Readings.Flush(ctx)
	if err := s.Readings.Thin(ctx); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := Recording(ctx, s, &b, "Bramble", epoch, now); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf(t, b.Bytes())
	if want := 500 + 3000; len(rows) != want {
		t.Errorf("%d rows, want %d: 500 minutes and 3,000 readings", len(rows), want)
	}
	// The first minute holds distances 140, 139.9 ... 139.5.
	if got := rows[0].DistanceMM; got != 139.75 {
		t.Errorf("mean of the first minute is %g, want 139.75", got)
	}
}

func TestExportJSONHoldsTheJournal(t *testing.T) {
	var now time.Time
	s := newStore(t, &now)
	ctx := t.Context()
	f, _ := s.Journal.AddFeed(ctx, store.Feed{Vessel: "Bramble", At: epoch, KeptG: 20, Note: "a \"quoted\" note\n"})
	f.KeptG = 25
	s.Journal.CorrectFeed(ctx, f)
	s.Journal.AddEvent(ctx, store.Event{Vessel: "Bramble", At: now, Kind: "peak", Data: json.RawMessage(`{"rise_ratio":2.1}`)})
	s.Journal.AddBake(ctx, store.Bake{At: now, Stars: 4})
	s.States.SetSetting(ctx, "setpoint_c", 26)
	s.States.SetSetting(ctx, "setpoint_c", 27)
	var b bytes.Buffer
	if err := Journal(ctx, s, &b, store.Query{}, now); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Feeds     []store.Feed
		Events    []store.Event
		Bakes     []store.Bake
		Revisions []struct {
			Entry int64
			Body  store.Feed
		}
		Settings []store.Setting
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	if diff := cmp.Diff([]store.Feed{f}, got.Feeds); diff != "" {
		t.Error("feeds (-want +got):", diff)
	}
	if len(got.Revisions) != 1 || got.Revisions[0].Body.KeptG != 20 || got.Revisions[0].Entry != f.ID {
		t.Errorf("revisions = %+v", got.Revisions)
	}
	if len(got.Events) != 1 || len(got.Bakes) != 1 || len(got.Settings) != 2 {
		t.Errorf("%s", b.String())
	}
}
