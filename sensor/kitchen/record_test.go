package kitchen

import (
	"bytes"
	"math"
	"testing"
)

func TestTheSameSeedGivesTheSameRecording(t *testing.T) {
	for _, seed := range []uint64{0, 4, 14, 61, 112} {
		var a, b bytes.Buffer
		if err := RandomRecording(seed).WriteCSV(&a); err != nil {
			t.Fatal(err)
		}
		if err := RandomRecording(seed).WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("seed %d gave two recordings", seed)
		}
	}
}

// TestTruthHoldsOnTheNoiselessCurve checks the truth of many recordings
// against the curve itself.
func TestTruthHoldsOnTheNoiselessCurve(t *testing.T) {
	for seed := range uint64(110) {
		r := RandomRecording(seed)
		h, every := r.Truth.HeightMM, r.Truth.Every
		for i, f := range r.Truth.Feeds {
			end := len(h)
			if i+1 < len(r.Truth.Feeds) {
				end = int(r.Truth.Feeds[i+1].FedAfter / every)
			}
			first, top := int(f.FedAfter/every), int(f.TopAfter/every)
			lo, hi := int(f.LoAfter/every), int(f.HiAfter/every)
			for k := first; k < end; k++ {
				if h[k] > h[top] {
					t.Fatalf("%s: tick %d stands above the top", r.Name, k)
				}
				if k >= lo && k <= hi && h[k] < h[top]-f.Band() {
					t.Fatalf("%s: tick %d lies below the band", r.Name, k)
				}
			}
			if f.Peaked && h[hi+1] >= h[top]-f.Band() {
				t.Errorf("%s: the band goes on after Hi", r.Name)
			}
			if lo > first && h[lo-1] >= h[top]-f.Band() {
				t.Errorf("%s: the band begins before Lo", r.Name)
			}
			if got := h[top] - h[first]; math.Abs(got-f.RiseMM) > 1e-9 {
				t.Errorf("%s: rise %.3f, the curve says %.3f", r.Name, f.RiseMM, got)
			}
		}
		if want := r.Truth.Case != "nopeak"; r.Truth.Peaked() != want {
			t.Errorf("%s: peaked is %v", r.Name, !want)
		}
	}
}

func BenchmarkRecord22HoursAt15Seconds(b *testing.B) {
	for b.Loop() {
		Record(RecordOpts{Starter: StarterOpts{Wander: 0.1}})
	}
}
