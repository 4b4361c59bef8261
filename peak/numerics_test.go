package peak

import (
	"encoding/csv"
	"math"
	"os"
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

func readXY(t *testing.T, name string) (x, y []float64) {
	t.Helper()
	f, err := os.Open("../testdata/nist/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows[1:] {
		a, _ := strconv.ParseFloat(r[0], 64)
		b, _ := strconv.ParseFloat(r[1], 64)
		x, y = append(x, a), append(y, b)
	}
	return x, y
}

// TestNIST fits three certified examples of the NIST Statistical Reference
// Datasets for nonlinear regression (public domain), from both of their
// starts, to at least six digits.
func TestNIST(t *testing.T) {
	tests := []struct {
		name, file string
		model      func(b []float64, x float64) float64
		starts     [][]float64
		want       []float64
		rss        float64
	}{
		{"Rat42", "nist_rat42.csv", func(b []float64, x float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x)) },
			[][]float64{{100, 1, .1}, {75, 2.5, .07}},
			[]float64{7.2462237576e+01, 2.6180768402e+00, 6.7359200066e-02}, 8.0565229338},
		{"Rat43", "nist_rat43.csv", func(b []float64, x float64) float64 { return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x), 1/b[3]) },
			[][]float64{{100, 10, 1, 1}, {700, 5, .75, 1.3}},
			[]float64{6.9964151270e+02, 5.2771253025e+00, 7.5962938329e-01, 1.2792483859e+00}, 8.7864049080e+03},
		{"Eckerle4", "nist_eckerle4.csv", func(b []float64, x float64) float64 { z := (x - b[2]) / b[1]; return b[0] / b[1] * math.Exp(-z*z/2) },
			[][]float64{{1, 10, 500}, {1.5, 5, 450}},
			[]float64{1.5543827178e+00, 4.0888321754e+00, 4.5154121844e+02}, 1.4635887487e-03},
	}
	for _, tt := range tests {
		x, y := readXY(t, tt.file)
		for _, start := range tt.starts {
			p, rss, ok := FitCurve(tt.model, x, y, start)
			if !ok {
				t.Errorf("%s from %v did not come to rest at %v", tt.name, start, p)
			}
			for i, want := range tt.want {
				near(t, tt.name+" b"+strconv.Itoa(i+1), p[i], want, 1e-6)
			}
			near(t, tt.name+" residual sum of squares", rss, tt.rss, 1e-8)
		}
	}
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

// TestGrowthOfFeed gets back the curve it made.
func TestGrowthOfFeed(t *testing.T) {
	want := Growth{LagHours: 1.5, RateMMH: 14, SizeMM: 60}
	f := Feed{WarmHours: 7, RiseMM: want.Gompertz(7), Curve: make([]float32, curveParts)}
	for k := range f.Curve {
		f.Curve[k] = float32(want.Gompertz(7*float64(k+1)/curveParts) / f.RiseMM)
	}
	got, ok := f.Growth()
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "lag", got.LagHours, want.LagHours, 0.01)
	near(t, "rate", got.RateMMH, want.RateMMH, 0.01)
	near(t, "size", got.SizeMM, want.SizeMM, 0.01)
}

// TestWarmth holds the temperature curves to published values.
func TestWarmth(t *testing.T) {
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
