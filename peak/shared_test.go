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

// TestShared holds the figures of RESULTS.md on the recordings in testdata,
// with a little room for the compiler's rounding on other machines.
func TestShared(t *testing.T) {
	sum := sharedTally(t)
	t.Log("\n" + sum.report())
	f := figuresOf(sum.rows)
	if f.onTop < 96 || f.early > 1 || f.miss > 0 || f.extra > 0 {
		t.Errorf("on-top %.1f %%, early %d, missed %d, called twice %d", f.onTop, f.early, f.miss, f.extra)
	}
	if f.errMed > 10 || f.err90 > 45 {
		t.Errorf("the stated top is off by %.1f / %.1f min, want at most 10 / 45", f.errMed, f.err90)
	}
	if sum.falseCalls > 0 || sum.falseFeeds > 0 {
		t.Errorf("%d false calls, %d invented feeds", sum.falseCalls, sum.falseFeeds)
	}
	for _, r := range sum.rows {
		if r.wantsFound && !r.found {
			t.Errorf("a feed of %s was not found", r.name)
		}
	}
	if _, _, cover, _ := outlookOf(sum.rows); cover < 72 {
		t.Errorf("the interval held the top in %.0f %%", cover)
	}
}
