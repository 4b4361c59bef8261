package peak

import (
	"math"
	"testing"
)

// TestJurySizes: weights of another shape are caught here and not by a panic.
func TestJurySizes(t *testing.T) {
	for _, known := range []bool{false, true} {
		for i, j := range jury(known) {
			if len(j.weights) != jurorSize {
				t.Errorf("juror %d of a known starter (%v) has %d weights, want %d; train it again", i, known, len(j.weights), jurorSize)
			}
		}
	}
}

// TestRecentMeans: the windows hold the means of their minutes, and one
// without a minute takes the next younger one's.
func TestRecentMeans(t *testing.T) {
	var r recent
	for m := range 300 {
		if m > 200 && m < 260 {
			continue // nothing came for an hour
		}
		r.add(float64(m)/60, float64(m))
	}
	var out [recentWindows]float64
	r.means(299.0/60, 1, &out)
	for w := range out {
		sum, n := 0.0, 0
		for m := 299; m >= 0; m-- {
			age := float64(299 - m)
			if age >= recentEdges[w] && age < recentEdges[w+1] && (m <= 200 || m >= 260) {
				sum, n = sum+float64(m), n+1
			}
		}
		want := 261.0 // the window before the gap reaches to its begin
		if n > 0 {
			want = sum / float64(n)
		}
		if n > 0 && math.Abs(out[w]-want) > 1e-9 {
			t.Errorf("window %d: got %g, want %g", w, out[w], want)
		}
		if n == 0 && out[w] != out[w-1] {
			t.Errorf("window %d without a minute: got %g, want %g", w, out[w], out[w-1])
		}
	}
	var none recent
	none.means(1, 7, &out)
	if out[0] != 7 || out[recentWindows-1] != 7 {
		t.Errorf("without minutes: got %v, want the height", out)
	}
}

// TestPauses: a curve that slows down, speeds up again and dips remembers it.
func TestPauses(t *testing.T) {
	var p pauses
	for i, step := range [][3]float64{{5, 10, 0}, {7, 2, 0}, {8, 1, 3}, {9, 8, 1}, {11, 7, 0}, {12, 3, 0}} {
		p.see(float64(i)/10, step[0], step[1], step[2])
	}
	if p.fast != 10 || p.slow != 1 || p.slowAt != 0.2 || p.slowH != 8 || math.Abs(p.still-0.1) > 1e-9 || p.spurt != 0.7 || p.spurtAt != 0.3 || p.dip != 3 {
		t.Errorf("got %+v", p)
	}
}
