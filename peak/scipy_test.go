package peak

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"
)

// scipyScript asks scipy for the same three things: a Savitzky-Golay filter
// at its live edge, a Gompertz fit, and normal probabilities.
const scipyScript = `
import json, sys
import numpy as np
from scipy.signal import savgol_coeffs
from scipy.optimize import curve_fit
from scipy.stats import norm
d = json.load(sys.stdin)
g = lambda t, l, m, a: a*np.exp(-np.exp(m*np.e/a*(l-t)+1))
p, _ = curve_fit(g, np.array(d["x"]), np.array(d["y"]), p0=d["start"])
edge = savgol_coeffs(21, 2, deriv=1, pos=20, use="dot")
json.dump({"fit": list(p), "edge": list(edge), "cdf": list(norm.cdf(d["z"]))}, sys.stdout)
`

// TestAgainstScipy compares with scipy as Debian ships it. CI installs it;
// elsewhere the test is skipped when it is missing.
func TestAgainstScipy(t *testing.T) {
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatalf("scipy is demanded here and missing (Debian: python3-scipy): %v", err)
		}
		t.Skip("scipy is missing (Debian: python3-scipy)")
	}
	var in struct {
		X, Y, Start, Z []float64
	}
	true_ := Growth{LagHours: 1.2, RateMMH: 11, SizeMM: 55}
	for i := range 60 {
		x := float64(i) / 6
		in.X = append(in.X, x)
		in.Y = append(in.Y, true_.Gompertz(x)+0.8*math.Sin(37*x))
	}
	in.Start = []float64{2, 8, 60}
	in.Z = []float64{-4, -1.5, 0, 0.3, 2, 5}
	raw, err := json.Marshal(map[string][]float64{"x": in.X, "y": in.Y, "start": in.Start, "z": in.Z})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", scipyScript)
	stdin, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	go func() { stdin.Write(raw); stdin.Close() }()
	got, err := cmd.Output()
	if err != nil {
		t.Fatalf("scipy: %v", err)
	}
	var want struct{ Fit, Edge, CDF []float64 }
	if err := json.Unmarshal(got, &want); err != nil {
		t.Fatal(err)
	}
	p, _, ok := FitCurve(func(p []float64, x float64) float64 { return Growth{p[0], p[1], p[2]}.Gompertz(x) }, in.X, in.Y, in.Start)
	if !ok {
		t.Fatal("our fit did not come to rest")
	}
	for i := range p {
		near(t, "Gompertz fit", p[i], want.Fit[i], 1e-5)
	}
	for j := range want.Edge {
		var q quadratic
		for i := range want.Edge {
			y := 0.0
			if i == j {
				y = 1
			}
			q.add(float64(i-20), y, 1)
		}
		_, b, _, _ := q.solve()
		near(t, "slope at the live edge", b, want.Edge[j], 1e-7)
	}
	for i, z := range in.Z {
		near(t, "normal probability", normalCDF(z), want.CDF[i], 1e-12)
	}
}
