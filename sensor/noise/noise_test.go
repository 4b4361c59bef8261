package noise_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"leavend/sensor"
	"leavend/sensor/noise"
)

type source func(context.Context) (sensor.Reading, error)

func (s source) Read(ctx context.Context) (sensor.Reading, error) { return s(ctx) }

// row is a source that gives the values one after the other; NaN is an error.
func row(values ...float64) source {
	i := 0
	return func(context.Context) (sensor.Reading, error) {
		v := values[i%len(values)]
		i++
		if math.IsNaN(v) {
			return sensor.Reading{}, fmt.Errorf("reading %d failed", i)
		}
		return sensor.Reading{Quantity: sensor.Distance, Value: v}, nil
	}
}

func TestOf(t *testing.T) {
	// By hand: deviations -2 -1 0 1 2, sum of squares 10, neighbours' products 2+0+0+2.
	got := noise.Of([]float64{1, 2, 3, 4, 5})
	if got.Mean != 3 || got.Median != 3 || math.Abs(got.SD-math.Sqrt(2.5)) > 1e-12 || math.Abs(got.Rho-0.4) > 1e-12 {
		t.Errorf("got %+v", got)
	}
	if got := noise.Of(nil); got != (noise.Stats{}) {
		t.Errorf("nothing gave %+v", got)
	}
	if got := noise.Of([]float64{7, 7, 7}); got.SD != 0 || got.Rho != 0 || got.Mean != 7 {
		t.Errorf("a constant gave %+v", got)
	}
}

// TestSamples takes a published measurement, a VL53L0X over calm water in the
// dark: 37 readings with a standard deviation of 6.8 mm and a correlation of
// 0.11 from each to the next. For 1 mm, uncorrelated readings need 6.8² = 46.24,
// so 47; these need 46.24·1.11/0.89 = 57.7 in the limit of long means.
func TestSamples(t *testing.T) {
	s := noise.Stats{N: 37, SD: 6.8}
	if n, ok := s.Samples(1, 1000); n != 47 || !ok {
		t.Errorf("uncorrelated: got %d, %v, want 47", n, ok)
	}
	s.Rho = 0.11
	if n, ok := s.Samples(1, 1000); n < 57 || n > 58 || !ok {
		t.Errorf("correlated: got %d, %v, want 57 or 58", n, ok)
	}
	if n, ok := s.Samples(1, 20); n != 20 || ok {
		t.Errorf("at most twenty: got %d, %v", n, ok)
	}
	s.N = 5
	if _, ok := s.Samples(1, 1000); ok {
		t.Error("five readings were taken to tell a correlation")
	}
	s = noise.Stats{N: 37, SD: 0.5, Rho: -0.4}
	if n, ok := s.Samples(1, 1000); n != 1 || !ok {
		t.Errorf("a quiet sensor: got %d, %v, want 1", n, ok)
	}
}

// TestStandardError compares with noise made to order: means of n readings of
// which each keeps a part ρ of the one before.
func TestStandardError(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, rho := range []float64{0, 0.3, 0.8} {
		for _, n := range []int{1, 2, 5, 20} {
			const runs = 20_000
			v, squares := rng.NormFloat64(), 0.0
			for range runs {
				sum := 0.0
				for range n {
					v = rho*v + math.Sqrt(1-rho*rho)*rng.NormFloat64()
					sum += v
				}
				squares += sum / float64(n) * sum / float64(n)
			}
			got := noise.Stats{SD: 1, Rho: rho}.StandardError(n)
			if want := math.Sqrt(squares / runs); math.Abs(got/want-1) > 0.04 {
				t.Errorf("ρ %v, %d readings: got %.4f, simulation gives %.4f", rho, n, got, want)
			}
		}
	}
}

func TestAverage(t *testing.T) {
	nan := math.NaN()
	tests := []struct {
		name   string
		values []float64
		want   float64
		err    string
	}{
		{"plain", []float64{100, 101, 102, 103, 104}, 102, ""},
		{"one glint", []float64{100, 101, 24, 101, 102}, 101, ""},
		{"all the same", []float64{100, 100, 100, 100, 100}, 100, ""},
		{"two of five failed", []float64{100, nan, 102, nan, 101}, 101, ""},
		{"three of five failed", []float64{100, nan, nan, nan, 101}, 0, "2 of 5: fewer than half of the readings came: reading 4 failed"},
		{"all failed", []float64{nan, nan, nan, nan, nan}, 0, "0 of 5: fewer than half"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r, err := noise.NewMean(row(tt.values...), 5).Read(t.Context())
			if r.Value != tt.want || (err == nil) != (tt.err == "") || err != nil && !strings.Contains(err.Error(), tt.err) {
				t.Errorf("got %v, %v, want %v, %q", r.Value, err, tt.want, tt.err)
			}
		})
	}
}

func TestNoAllocation(t *testing.T) {
	m := noise.NewMean(row(100, 101, 102), 9)
	ctx := t.Context()
	if n := testing.AllocsPerRun(50, func() { m.Read(ctx) }); n != 0 {
		t.Errorf("%v allocations a reading", n)
	}
}

func ExampleStats_Samples() {
	// What 'leavend calibrate' might find of a ranger over wet dough.
	s := noise.Stats{N: 40, SD: 3, Rho: 0.2}
	n, ok := s.Samples(1, 100)
	fmt.Println(n, ok)
	// Output: 14 true
}
