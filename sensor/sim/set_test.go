package sim

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"leavend/sensor/recording"
)

// TestSavedSetCanBeReadAgain reads the files back with the project's own
// reader and compares them with what was recorded.
func TestSavedSetCanBeReadAgain(t *testing.T) {
	dir := t.TempDir()
	set := []*Recording{RandomRecording(0), RandomRecording(4), SilentFeed(1)}
	if err := SaveSet(dir, set); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth []setEntry
	if err := json.Unmarshal(b, &truth); err != nil || len(truth) != len(set) {
		t.Fatalf("%d entries, %v", len(truth), err)
	}
	for i, e := range truth {
		r := set[i]
		if e.Peaked != r.Truth.Peaked() || len(e.Feeds) != len(r.Truth.Feeds) {
			t.Errorf("%s: truth %+v", e.Name, e)
		}
		f, err := os.Open(filepath.Join(dir, e.Name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		rd, err := recording.NewReader(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range r.Rows {
			got, err := rd.Next()
			if err != nil {
				t.Fatal(err)
			}
			if !got.At.Equal(want.At) || !same(got.DistanceMM, want.DistanceMM) || !same(got.TempC, want.TempC) || (got.Note == recording.Fed) != want.Fed {
				t.Fatalf("%s: read %+v, recorded %+v", e.Name, got, want)
			}
		}
		f.Close()
	}
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-3
}

// TestSaveCampaign writes a large set into the folder that KITCHEN_DIR names:
// KITCHEN_SEEDS random recordings (default 550), so that a detector can be
// scored on them.
func TestSaveCampaign(t *testing.T) {
	dir := os.Getenv("KITCHEN_DIR")
	if dir == "" {
		t.Skip("KITCHEN_DIR names no folder")
	}
	n, err := strconv.Atoi(os.Getenv("KITCHEN_SEEDS"))
	if err != nil {
		n = 550
	}
	var set []*Recording
	for seed := range uint64(n) {
		set = append(set, RandomRecording(seed))
	}
	if err := SaveSet(dir, set); err != nil {
		t.Fatal(err)
	}
}
