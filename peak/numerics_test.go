package peak

import (
	"math"
	"strconv"
	"testing"
)

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*max(math.Abs(want), 1e-300)) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// TestSavitzkyGolay holds the local regression to the exact rationals of
// Savitzky and Golay (Anal. Chem. 36:1627, 1964), recomputed because the
// printed tables contain errors (Steinier et al., Anal. Chem. 44:1906, 1972).
func TestSavitzkyGolay(t *testing.T) {
	smooth := map[int][]float64{
		5:  {-3, 12, 17, 12, -3, 35},
		7:  {-2, 3, 6, 7, 6, 3, -2, 21},
		9:  {-21, 14, 39, 54, 59, 54, 39, 14, -21, 231},
		11: {-36, 9, 44, 69, 84, 89, 84, 69, 44, 9, -36, 429},
	}
	for n, want := range smooth {
		norm := want[n]
		for j := range n {
			a, b, _ := impulse(n, j)
			near(t, "smooth "+strconv.Itoa(n), a, want[j]/norm, 1e-11)
			// The slope of a parabola's fit: -m..m over the sum of squares.
			m := float64(n / 2)
			ss := m * (m + 1) * (2*m + 1) / 3
			if x := float64(j) - m; math.Abs(b-x/ss) > 1e-12 {
				t.Errorf("slope %d: got %v, want %v", n, b, x/ss)
			}
		}
	}
}

// impulse fits a parabola to n equally spaced zeros with a one at j.
func impulse(n, j int) (a, b, c float64) {
	var q quadratic
	for i := range n {
		y := 0.0
		if i == j {
			y = 1
		}
		q.add(float64(i-n/2), y, 1)
	}
	a, b, c, _ = q.solve()
	return a, b, c
}

// TestGrowthCurves holds the growth models to values computed from the
// published forms (Zwietering et al. 1990; Baranyi and Roberts 1994).
func TestGrowthCurves(t *testing.T) {
	g := Growth{LagHours: 2, RateMMH: 0.25, SizeMM: 1}
	near(t, "Gompertz(0)", g.Gompertz(0), 0.000025372, 1e-4)
	near(t, "Gompertz(2)", g.Gompertz(2), 0.065988036, 1e-8)
	near(t, "Gompertz(4)", g.Gompertz(4), 0.497442181, 1e-8)
	near(t, "Gompertz(8)", g.Gompertz(8), 0.954967607, 1e-8)
	near(t, "Gompertz at the lag is A·e^-e", g.Gompertz(2), math.Exp(-math.E), 1e-12)
	near(t, "Richards ν=0.5 (4)", g.Richards(4, 0.5), 0.499787231, 1e-8)
	near(t, "Richards ν=1 is the logistic", g.Richards(5, 1), g.Logistic(5), 1e-12)
	near(t, "Baranyi(4)", Baranyi(4, 0, 3, 0.5, 1), 1.098416348, 1e-9)
	near(t, "Baranyi(8)", Baranyi(8, 0, 3, 0.5, 1), 2.347039185, 1e-9)
}

// TestTemperature holds the temperature curves to published values.
func TestTemperature(t *testing.T) {
	// Gänzle et al. 1998 as quoted; 1/h.
	sanf, mill := Ganzle{0.1267, 1.5404, 0.1931, 41}, Ganzle{0.0124, 2.981, 0.3355, 36}
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
	c := CTMI{yeastTMin, yeastTOpt, yeastTMax}
	near(t, "CTMI at the optimum", c.Growth(yeastTOpt), 1, 1e-12)
	for _, x := range []float64{yeastTMin, yeastTMax, 0, 60, math.NaN()} {
		if g := c.Growth(x); g != 0 {
			t.Errorf("CTMI at %v °C: got %v, want 0", x, g)
		}
	}
	// What a baker sees: 20 to 30 °C shortens the time by 1.5 to 1.7.
	if r := pace(30) / pace(20); r < 1.5 || r > 1.7 {
		t.Errorf("pace from 20 to 30 °C: got %.2f, want 1.5 to 1.7", r)
	}
	near(t, "20 to 25 °C", pace(25)/pace(20), 1.39, 0.005)
	near(t, "25 to 30 °C", pace(30)/pace(25), 1.18, 0.005)
	for _, want := range []float64{10, 20, 28} {
		near(t, "paceTemp", paceTemp(pace(want)), want, 1e-6)
	}
}
