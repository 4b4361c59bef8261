package peak

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/sensor/recording"
)

// truthFile is the shape of truth.json beside the recordings.
type truthFile struct {
	Name, Case, Family string
	Start              time.Time
	Hours              float64
	Peaked             bool
	PeakH              float64 `json:"peak_h"`
	LoH                float64 `json:"lo_h"`
	HiH                float64 `json:"hi_h"`
	RiseMM             float64 `json:"rise_mm"`
	Feeds              []struct {
		PeakH  float64 `json:"peak_h"`
		LoH    float64 `json:"lo_h"`
		HiH    float64 `json:"hi_h"`
		RiseMM float64 `json:"rise_mm"`
		AtH    float64 `json:"at_h"`
		Peaked bool
	}
}

const curvesDir = "../testdata/curves"

// loadShared reads the recordings in testdata with their truth.
func loadShared(t testing.TB) (recs []invented, starts []time.Time) {
	raw, err := os.ReadFile(filepath.Join(curvesDir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var metas []truthFile
	if err := json.Unmarshal(raw, &metas); err != nil {
		t.Fatal(err)
	}
	for _, m := range metas {
		rec := invented{name: m.Case, rows: readRows(t, m.Name), hours: m.Hours, history: m.Case == "history"}
		for _, f := range m.Feeds {
			rec.feeds = append(rec.feeds, truth{feed: f.AtH, peak: f.AtH + f.PeakH, lo: f.AtH + f.LoH, hi: f.AtH + f.HiH,
				rise: f.RiseMM, peaked: f.Peaked, marked: m.Case != "unmarked"})
		}
		if m.Feeds == nil && m.Peaked {
			rec.feeds = []truth{{peak: m.PeakH, lo: m.LoH, hi: m.HiH, rise: m.RiseMM, peaked: true, marked: true}}
		}
		recs, starts = append(recs, rec), append(starts, m.Start)
	}
	return recs, starts
}

func readRows(t testing.TB, name string) (rows []sample) {
	raw, err := os.ReadFile(filepath.Join(curvesDir, name+".csv.gz"))
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	r, err := recording.NewReader(z)
	if err != nil {
		t.Fatal(err)
	}
	for {
		row, err := r.Next()
		if errors.Is(err, io.EOF) {
			return rows
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		rows = append(rows, sample{at: row.At, height: -row.DistanceMM, temp: row.TempC, fed: row.Note == recording.Fed})
	}
}

func sharedTally(t testing.TB) *tally {
	recs, starts := loadShared(t)
	var sum tally
	for i, rec := range recs {
		sum.add(rec, starts[i], runInvented(rec, Opts{}))
	}
	return &sum
}

func TestShared(t *testing.T) {
	sum := sharedTally(t)
	t.Log("\n" + sum.report())
	if f := figuresOf(sum.rows); f.onTop < 80 {
		t.Errorf("on-top %.1f %%, want at least 80", f.onTop)
	}
}
