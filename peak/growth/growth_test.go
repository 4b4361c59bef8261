package growth

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// TestTemperature holds the temperature curves to published values.
func TestTemperature(t *testing.T) {
	// Gänzle et al. 1998 as quoted; 1/h.
	sanf, mill := Ganzle{A: 0.1267, B: 1.5404, C: 0.1931, TMax: 41}, Ganzle{A: 0.0124, B: 2.981, C: 0.3355, TMax: 36}
	for _, v := range []struct{ c, sanf, mill float64 }{
		{15, .1265, .0944}, {20, .2390, .2247}, {25, .4129, .3936}, {27, .4945, .4233},
		{30, .6088, .3458}, {32, .6576, .2020}, {35, .6284, .0089},
	} {
		if g := sanf.Growth(v.c); math.Abs(g-v.sanf) > 6e-5 {
			t.Errorf("L. sanfranciscensis at %v °C: got %.4f, want %.4f", v.c, g, v.sanf)
		}
		if g := mill.Growth(v.c); math.Abs(g-v.mill) > 6e-5 {
			t.Errorf("C. milleri at %v °C: got %.4f, want %.4f", v.c, g, v.mill)
		}
	}
	if g := mill.Growth(37); g != 0 {
		t.Errorf("C. milleri at 37 °C: got %v, want 0", g)
	}
	// The cardinal model: 0 at its ends, 1 at its optimum (Rosso et al. 1993).
	c := CTMI{TMin: TMin, TOpt: TOpt, TMax: TMax}
	near(t, "CTMI at the optimum", c.Growth(TOpt), 1, 1e-12)
	for _, x := range []float64{TMin, TMax, 0, 60, math.NaN()} {
		if g := c.Growth(x); g != 0 {
			t.Errorf("CTMI at %v °C: got %v, want 0", x, g)
		}
	}
	// What a baker sees: 20 to 30 °C shortens the time by 1.5 to 1.7.
	if r := Pace(30) / Pace(20); r < 1.5 || r > 1.7 {
		t.Errorf("pace from 20 to 30 °C: got %.2f, want 1.5 to 1.7", r)
	}
	near(t, "20 to 25 °C", Pace(25)/Pace(20), 1.39, 0.005)
	near(t, "25 to 30 °C", Pace(30)/Pace(25), 1.18, 0.005)
}
