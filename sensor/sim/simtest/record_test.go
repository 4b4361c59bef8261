package simtest

import (
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"leavend/sensor/sim"
)

// draws are random recordings that several tests look at.
var draws = sync.OnceValue(func() (all []*sim.Recording) {
	for seed := range uint64(100) {
		all = append(all, RandomRecording(seed))
	}
	return all
})

func TestTheSameSeedGivesTheSameRecording(t *testing.T) {
	for _, seed := range []uint64{0, 4, 14, 61, 112} {
		a, b := fmt.Sprint(RandomRecording(seed).Rows), fmt.Sprint(RandomRecording(seed).Rows)
		if a != b {
			t.Errorf("seed %d gave two recordings", seed)
		}
	}
}

// TestTruthHoldsOnTheNoiselessCurve checks the truth of many recordings
// against the curve itself.
func TestTruthHoldsOnTheNoiselessCurve(t *testing.T) {
	for _, r := range draws() {
		h, every := r.Truth.HeightMM, r.Truth.Every
		for i, f := range r.Truth.Feeds {
			end := len(h)
			if i+1 < len(r.Truth.Feeds) {
				end = int(r.Truth.Feeds[i+1].FedAfter / every)
			}
			first, top := int(f.FedAfter/every), int(f.TopAfter/every)
			lo, hi := int(f.LoAfter/every), int(f.HiAfter/every)
			band := math.Max(1, 0.02*(h[top]-h[first])) // 2 % of the rise, at least 1 mm
			for k := first; k < end; k++ {
				if h[k] > h[top] {
					t.Fatalf("%s: tick %d stands above the top", r.Name, k)
				}
				if k >= lo && k <= hi && h[k] < h[top]-band {
					t.Fatalf("%s: tick %d lies below the band", r.Name, k)
				}
			}
			if f.Peaked && h[hi+1] >= h[top]-band {
				t.Errorf("%s: the band goes on after Hi", r.Name)
			}
			if lo > first && h[lo-1] >= h[top]-band {
				t.Errorf("%s: the band begins before Lo", r.Name)
			}
			if got := h[top] - h[first]; math.Abs(got-f.RiseMM) > 1e-9 {
				t.Errorf("%s: rise %.3f, the curve says %.3f", r.Name, f.RiseMM, got)
			}
		}
		if want := r.Truth.Case != "nopeak"; peaked(&r.Truth) != want {
			t.Errorf("%s: peaked is %v", r.Name, !want)
		}
	}
}

func BenchmarkRecord22HoursAt15Seconds(b *testing.B) {
	for b.Loop() {
		sim.Record(sim.RecordOpts{Starter: sim.StarterOpts{Wander: 0.1}})
	}
}

// TestRandomRecordingsAreBroad holds the promise that the draws span what
// kitchens do, so that a detector tuned to one shape fails here.
func TestRandomRecordingsAreBroad(t *testing.T) {
	type span struct{ lo, hi float64 }
	seen := map[string]*span{}
	note := func(name string, v float64) {
		if seen[name] == nil {
			seen[name] = &span{v, v}
		}
		seen[name].lo, seen[name].hi = math.Min(seen[name].lo, v), math.Max(seen[name].hi, v)
	}
	for _, r := range draws() {
		for _, f := range r.Truth.Feeds {
			if f.Peaked {
				note("hours to the top", (f.TopAfter - f.FedAfter).Hours())
				note("minutes on top", (f.HiAfter - f.LoAfter).Minutes())
				note("rise mm", f.RiseMM)
				note("°C", f.MeanC)
			}
		}
	}
	want := map[string]span{
		"hours to the top": {3.5, 24}, "minutes on top": {20, 200}, "rise mm": {14, 100}, "°C": {16, 29},
	}
	for name, w := range want {
		if s := seen[name]; s.lo > w.lo || s.hi < w.hi {
			t.Errorf("%s spans %.1f to %.1f, want at least %.1f to %.1f", name, s.lo, s.hi, w.lo, w.hi)
		}
	}
}

// TestCutRecordingForgetsWhatNobodySaw cuts before the top.
func TestCutRecordingForgetsWhatNobodySaw(t *testing.T) {
	r := sim.Record(sim.RecordOpts{Seed: 3})
	if !peaked(&r.Truth) {
		t.Fatal("the plain recording has no top")
	}
	end := r.Truth.Feeds[0].LoAfter - time.Hour
	r.Cut(end)
	if peaked(&r.Truth) {
		t.Error("a peak that was not recorded is in the truth")
	}
	if last := r.Rows[len(r.Rows)-1].Elapsed; last > end {
		t.Errorf("rows go on until %s, cut at %s", last, end)
	}
}

func ExampleRecord() {
	r := sim.Record(sim.RecordOpts{
		Seed:    1,
		Starter: sim.StarterOpts{Brittle: 8, Firm: 12}, // a top that falls at once
		Events:  []sim.Event{{Kind: sim.Lifted, At: 3 * time.Hour, For: 2 * time.Minute, Amount: 3}},
	})
	f := r.Truth.Feeds[0]
	fmt.Println(len(r.Rows), "rows, top after", f.TopAfter.Round(time.Minute), "at", math.Round(10*f.Ratio)/10)
	fmt.Println(r.Truth.Disturbances[0].Event)
	// Output:
	// 5281 rows, top after 6h11m0s at 2.4
	// lifted at 3h0m0s for 2m0s (3)
}

func ExampleRandomRecording() {
	for seed := range uint64(5) {
		r := RandomRecording(seed)
		fmt.Println(r.Name, peaked(&r.Truth))
	}
	// Output:
	// dome-clean-0 true
	// flat-clean-1 true
	// sharp-clean-2 true
	// shoulder-clean-3 true
	// dead-nopeak-4 false
}

func ExampleCatalogue() {
	for _, e := range Catalogue()[:3] {
		fmt.Printf("%s: %d rows\n", e.Name, len(e.Record(1).Rows))
	}
	// Output:
	// jar lifted and put back 3 mm off: 4801 rows
	// fed and stirred without a press: 6464 rows
	// knocked so that it slumps: 4801 rows
}
