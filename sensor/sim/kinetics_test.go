package sim

import (
	"math"
	"testing"
)

// TestGrowthRatesMatchTheFormula holds values computed elsewhere from the
// formula quoted from Gänzle, Ehmann & Hammes 1998.
func TestGrowthRatesMatchTheFormula(t *testing.T) {
	tests := []struct{ c, lacto, yeast float64 }{
		{15, .1265, .0944}, {20, .2390, .2247}, {25, .4129, .3936}, {27, .4945, .4233},
		{30, .6088, .3458}, {32, .6576, .2020}, {35, .6284, .0089}, {37, .4952, 0}, {39, .2505, 0},
	}
	for _, tt := range tests {
		if got := LactobacillusPerHour(tt.c); math.Abs(got-tt.lacto) > 6e-5 {
			t.Errorf("L. sanfranciscensis at %.0f °C: %.4f, want %.4f", tt.c, got, tt.lacto)
		}
		if got := HumilisPerHour(tt.c); math.Abs(got-tt.yeast) > 6e-5 {
			t.Errorf("K. humilis at %.0f °C: %.4f, want %.4f", tt.c, got, tt.yeast)
		}
	}
}

// TestCardinalModel checks CTMI where its definition fixes it, and the ratio
// of rates between 20 and 30 °C for S. cerevisiae, 1.64.
func TestCardinalModel(t *testing.T) {
	if got := CTMI(32.27, 2.84, 32.27, 45.39, 0.368); math.Abs(got-0.368) > 1e-12 {
		t.Errorf("rate at the optimum is %.6f, want 0.368", got)
	}
	for _, c := range []float64{-5, 2.84, 45.39, 60, math.NaN()} {
		if got := CerevisiaePerHour(c); got != 0 {
			t.Errorf("rate at %.2f °C is %g, want 0", c, got)
		}
	}
	if got := CerevisiaePerHour(30) / CerevisiaePerHour(20); math.Abs(got-1.64) > 0.005 {
		t.Errorf("20 to 30 °C speeds up %.3f times, want 1.64", got)
	}
	h := 1e-4
	if slope := (CerevisiaePerHour(32.27+h) - CerevisiaePerHour(32.27-h)) / (2 * h); math.Abs(slope) > 1e-6 {
		t.Errorf("slope at the optimum is %g, want 0", slope)
	}
}
