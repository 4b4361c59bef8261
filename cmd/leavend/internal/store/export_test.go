package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"iter"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/sensor/recording"
)

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
func importOf(rows []recording.Row) iter.Seq2[ImportRow, error] {
	return func(yield func(ImportRow, error) bool) {
		for _, r := range rows {
			row := ImportRow{At: r.At, Fed: r.Note == recording.Fed, Values: map[Channel]float64{Distance: r.DistanceMM, Warmth: r.TempC}}
			if !yield(row, nil) {
				return
			}
		}
	}
}

func TestExportIsARecording(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	s.AddFeed(ctx, Feed{Vessel: "Bramble", At: epoch})
	want := fill(s, w, "Bramble", 300)
	s.Add(Reading{"Bramble", MatTemp, w.Now(), 31.25})
	s.Add(Reading{"Bramble", MatOn, w.Now(), 1})
	flush(t, s)
	s.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now(), Source: Found})
	fill(s, w, "Pilot", 3)

	var b bytes.Buffer
	n, err := s.ExportCSV(ctx, &b, "Bramble", epoch, epoch.Add(24*time.Hour))
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
		if !row.At.Equal(d.At) || row.DistanceMM != value(int64(d.Value/quantum+0.5)) || row.TempC != c.Value {
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
// store; its window must be the same there.
func TestImportOfAnExport(t *testing.T) {
	a, w := newTestStore(t)
	a.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: epoch})
	want := fill(a, w, "Bramble", 5000)
	var csv bytes.Buffer
	if _, err := a.ExportCSV(t.Context(), &csv, "Bramble", epoch, w.Now()); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf(t, csv.Bytes())

	b, later := newTestStore(t)
	later.pass(w.Now().Sub(later.Now()))
	cut := func(yield func(ImportRow, error) bool) {
		for row, err := range importOf(rows[:4500]) {
			if !yield(row, err) {
				return
			}
		}
		yield(ImportRow{}, io.ErrUnexpectedEOF)
	}
	if _, err := b.Import(t.Context(), "Pilot", "one", cut); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Fatalf("a torn recording: %v", err)
	}
	done, err := b.Import(t.Context(), "Pilot", "one", importOf(rows))
	if diff := cmp.Diff(Imported{Rows: 5001, Readings: 10000, Feeds: 1}, done); diff != "" || err != nil {
		t.Fatal(err, "(-want +got):", diff)
	}
	if _, err := b.Import(t.Context(), "Pilot", "one", importOf(rows)); !errors.Is(err, ErrImported) {
		t.Errorf("a second import: %v", err)
	}
	for i := range want {
		want[i].Vessel = "Pilot"
		if want[i].Channel == Warmth { // stands in the row of the distance
			want[i].At = want[i-1].At
		}
	}
	checkWindow(t, b, "Pilot", want, epoch, w.Now(), 300)
	checkWindow(t, b, "Pilot", want, epoch, epoch.AddDate(0, 0, 40), 2000)
	if feeds, err := b.Feeds(t.Context(), Query{Vessel: "Pilot"}); err != nil || len(feeds) != 1 || !feeds[0].At.Equal(epoch) {
		t.Errorf("feeds = %v, %v", feeds, err)
	}
}

func TestExportOfThinnedReadings(t *testing.T) {
	s, w := newTestStore(t)
	fill(s, w, "Bramble", 3000)
	flush(t, s)
	w.pass(100 * 24 * time.Hour)
	later := fill(s, w, "Bramble", 3000)
	flush(t, s)
	before := checkWindow(t, s, "Bramble", append(readings(t, s, "Bramble", epoch), later[:0]...), epoch, epoch.AddDate(0, 0, 1), 1000)
	if err := s.Thin(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := readings(t, s, "Bramble", epoch); len(got) != len(later) {
		t.Errorf("%d readings at full rate are left, want %d", len(got), len(later))
	}
	after, err := s.Window(t.Context(), "Bramble", epoch, epoch.AddDate(0, 0, 1), 1000)
	if diff := cmp.Diff(before.Points, after.Points); diff != "" || err != nil {
		t.Error("the window changed with thinning:", err, diff)
	}
	var b bytes.Buffer
	if _, err := s.ExportCSV(t.Context(), &b, "Bramble", epoch, w.Now()); err != nil {
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
	s, w := newTestStore(t)
	ctx := t.Context()
	f, _ := s.AddFeed(ctx, Feed{Vessel: "Bramble", At: epoch, KeptG: 20, Note: "a \"quoted\" note\n"})
	f.KeptG = 25
	s.CorrectFeed(ctx, f)
	s.AddEvent(ctx, Event{Vessel: "Bramble", At: w.Now(), Kind: "peak", Data: json.RawMessage(`{"rise_ratio":2.1}`)})
	s.AddBake(ctx, Bake{At: w.Now(), Stars: 4})
	s.SetSetting(ctx, "setpoint_c", 26)
	s.SetSetting(ctx, "setpoint_c", 27)
	var b bytes.Buffer
	if err := s.ExportJSON(ctx, &b, Query{}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Feeds     []Feed
		Events    []Event
		Bakes     []Bake
		Revisions []struct {
			Entry int64
			Body  Feed
		}
		Settings []Setting
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	if diff := cmp.Diff([]Feed{f}, got.Feeds); diff != "" {
		t.Error("feeds (-want +got):", diff)
	}
	if len(got.Revisions) != 1 || got.Revisions[0].Body.KeptG != 20 || got.Revisions[0].Entry != f.ID {
		t.Errorf("revisions = %+v", got.Revisions)
	}
	if len(got.Events) != 1 || len(got.Bakes) != 1 || len(got.Settings) != 2 {
		t.Errorf("%s", b.String())
	}
}

func TestBackupWhileWriting(t *testing.T) {
	s, w := newTestStore(t)
	want := fill(s, w, "Bramble", 2000)
	file := filepath.Join(t.TempDir(), "copy.db")
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			default:
				s.AddFeed(t.Context(), Feed{Vessel: "Pilot", At: epoch})
			}
		}
	}()
	err := s.Backup(t.Context(), file)
	close(stop)
	<-stopped
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Backup(t.Context(), file); err == nil {
		t.Error("a backup was written over")
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(file), "*.part*")); left != nil {
		t.Errorf("left behind: %v", left)
	}
	c := reopen(t, file, w)
	defer c.Close()
	if diff := cmp.Diff(want, readings(t, c, "Bramble", epoch), oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
}

// TestReadOnlyBesideARunningDaemon is what the backup and export commands do.
func TestReadOnlyBesideARunningDaemon(t *testing.T) {
	s, w := newTestStore(t)
	want := fill(s, w, "Bramble", 10)
	flush(t, s)
	r, _, err := Open(t.Context(), s.Path(), Opts{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if diff := cmp.Diff(want, readings(t, r, "Bramble", epoch), oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
	if err := r.Backup(t.Context(), filepath.Join(t.TempDir(), "copy.db")); err != nil {
		t.Error(err)
	}
	if _, err := r.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: epoch}); !errors.Is(err, ErrReadOnly) {
		t.Errorf("a feed through a reader: %v", err)
	}
	if _, _, err := Open(t.Context(), filepath.Join(t.TempDir(), "none.db"), Opts{ReadOnly: true}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("reading what is not there: %v", err)
	}
}
