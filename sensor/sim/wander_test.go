package sim

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

// minuteMeans averages readings that are the given number to a minute.
func minuteMeans(v []float64, per int) (out []float64) {
	for i := 0; i+per <= len(v); i += per {
		out = append(out, meanOf(v[i:i+per]))
	}
	return out
}

func meanOf(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// autocorrelation returns the standard deviation of v and its correlation
// with itself some places on.
func autocorrelation(v []float64, lags ...int) (sd float64, rho []float64) {
	m, n := meanOf(v), float64(len(v))
	for _, x := range v {
		sd += (x - m) * (x - m) / n
	}
	for _, k := range lags {
		c := 0.0
		for i := k; i < len(v); i++ {
			c += (v[i] - m) * (v[i-k] - m) / n
		}
		rho = append(rho, c/sd)
	}
	return math.Sqrt(sd), rho
}

// allan is the Allan deviation of readings averaged per at a time (IEEE 1139).
func allan(v []float64, per int) float64 {
	b, s := minuteMeans(v, per), 0.0
	for i := 1; i < len(b); i++ {
		s += (b[i] - b[i-1]) * (b[i] - b[i-1])
	}
	return math.Sqrt(s / 2 / float64(len(b)-1))
}

// TestMeasuredWander holds the simulated VL53L0X to what the public recording
// of a real one shows (see MeasuredWander; read at 20 ms by its authors).
func TestMeasuredWander(t *testing.T) {
	const every, hours = 200 * time.Millisecond, 100
	o := VL53L0X()
	o.StepMM, o.MissShare, o.GlintShare = -1, -1, -1
	o.WhiteMM = 2.1 / math.Sqrt(10) // ten rangings of 20 ms
	r := newRanger(o, 1)
	v := make([]float64, hours*3600*5)
	for i := range v {
		v[i], _ = r.measure(view{distanceMM: 76}, every)
	}
	sd, rho := autocorrelation(minuteMeans(v, 300), 1, 5, 10)
	for _, tt := range []struct {
		what           string
		got, want, tol float64
	}{
		{"standard deviation of minutes, mm", sd, 1.1, 0.1},
		{"correlation after 1 min", rho[0], 0.89, 0.05},
		{"correlation after 5 min", rho[1], 0.55, 0.1},
		{"correlation after 10 min", rho[2], 0.24, 0.1},
		{"Allan deviation at 5 s, mm", allan(v, 25), 0.18, 0.02},
		{"Allan deviation at 5 min, mm", allan(v, 1500), 0.6, 0.1},
		{"Allan deviation at 10 min, mm", allan(v, 3000), 0.6, 0.1},
	} {
		if math.Abs(tt.got-tt.want) > tt.tol {
			t.Errorf("%s: %.3f, recorded %.3f", tt.what, tt.got, tt.want)
		}
	}
}

// TestRecordedHourLiesWithin holds one hour of that recording to the range
// that is drawn from: it wandered less than the four hours did.
func TestRecordedHourLiesWithin(t *testing.T) {
	v := recordedHour(t)
	sd, _ := autocorrelation(minuteMeans(v, 60))
	if whole := MeasuredWander()[0].MM; sd < 0.2*whole || sd > 1.2*whole {
		t.Errorf("minutes deviate by %.2f mm, the model by %.2f", sd, whole)
	}
	o := VL53L0X()
	want := math.Hypot(o.WhiteMM/math.Sqrt(50), allan(v, 5))
	if got := allan(v, 1); got > 1.3*want || got < 0.6*want {
		t.Errorf("Allan deviation at 1 s %.2f mm, white noise of fifty readings and wander %.2f", got, want)
	}
}

// recordedHour reads the hour: one-second means, MIT licence, see the file.
func recordedHour(t *testing.T) (v []float64) {
	f, err := os.Open("testdata/vl53l0x-static-1h.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		x, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		v = append(v, x)
	}
	return v
}

// TestOutages checks how often readings fail for a while.
func TestOutages(t *testing.T) {
	o := quiet
	o.OutageEvery, o.OutageFor = time.Hour, 6*time.Minute
	r, out := newRanger(o, 4), 0
	const n = 400_000
	for range n {
		if mm, _ := r.measure(view{distanceMM: 150}, 15*time.Second); math.IsNaN(mm) {
			out++
		}
	}
	if got, want := float64(out)/n, 6.0/66; math.Abs(got-want) > 0.01 {
		t.Errorf("%.3f of the readings fail, want %.3f", got, want)
	}
}

// TestShiftWithTemperature checks the shift of an echo in warmer air against
// the speed of sound: 343.36 m/s at 20 °C and 346.27 at 25 °C (Cramer 1993).
func TestShiftWithTemperature(t *testing.T) {
	o := Echo()
	o.WhiteMM, o.StepMM, o.Wander, o.SpikeShare, o.MissShare = -1, -1, []Wander{}, -1, -1
	r := newRanger(o, 1)
	cold, _ := r.measure(view{distanceMM: 150, airC: 20}, time.Second)
	warm, _ := r.measure(view{distanceMM: 150, airC: 25}, time.Second)
	if got, want := warm-cold, 150*(343.36/346.27-1); math.Abs(got-want) > 0.1 {
		t.Errorf("five degrees shift it by %.2f mm, want %.2f", got, want)
	}
}
