package peak

import (
	"math"
	"strconv"
	"testing"

	"leavend/peak/growth"
	"leavend/peak/quadratic"
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
	var q quadratic.Fit
	for i := range n {
		y := 0.0
		if i == j {
			y = 1
		}
		q.Add(float64(i-n/2), y, 1)
	}
	a, b, c, _ = q.Solve()
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

// TestPaceTemp: the temperature at which a starter lives at a pace is found again.
func TestPaceTemp(t *testing.T) {
	for _, want := range []float64{10, 20, 28} {
		near(t, "paceTemp", paceTemp(growth.Pace(want)), want, 1e-6)
	}
}
