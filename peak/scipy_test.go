package peak

import (
	"encoding/json"
	"os"
	"os/exec"
	"testing"

	"leavend/peak/quadratic"
)

// scipyScript asks scipy for a Savitzky-Golay filter at its live edge
// and normal probabilities.
const scipyScript = `
import json, sys
from scipy.signal import savgol_coeffs
from scipy.stats import norm
d = json.load(sys.stdin)
edge = savgol_coeffs(21, 2, deriv=1, pos=20, use="dot")
json.dump({"edge": list(edge), "cdf": list(norm.cdf(d["z"]))}, sys.stdout)
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
		Z []float64
	}
	in.Z = []float64{-4, -1.5, 0, 0.3, 2, 5}
	raw, err := json.Marshal(map[string][]float64{"z": in.Z})
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
	var want struct{ Edge, CDF []float64 }
	if err := json.Unmarshal(got, &want); err != nil {
		t.Fatal(err)
	}
	for j := range want.Edge {
		var q quadratic.Fit
		for i := range want.Edge {
			y := 0.0
			if i == j {
				y = 1
			}
			q.Add(float64(i-20), y, 1)
		}
		_, b, _, _ := q.Solve()
		near(t, "slope at the live edge", b, want.Edge[j], 1e-7)
	}
	for i, z := range in.Z {
		near(t, "normal probability", normalCDF(z), want.CDF[i], 1e-12)
	}
}
