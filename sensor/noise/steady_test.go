package noise_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/noise"
)

// shaky is a source around 100 whose neighbours are alike by rho.
func shaky(sd, rho float64, takes time.Duration) source {
	rng := rand.New(rand.NewPCG(5, 6))
	v := rng.NormFloat64()
	return func(context.Context) (sensor.Reading, error) {
		time.Sleep(takes)
		v = rho*v + math.Sqrt(1-rho*rho)*rng.NormFloat64()
		return sensor.Reading{Quantity: sensor.Distance, Value: 100 + sd*v}, nil
	}
}

// TestSteady sees that the mean is as steady as was asked for, whatever the
// noise, with no more readings than that takes, and never in more time than it
// may have.
func TestSteady(t *testing.T) {
	tests := []struct {
		name      string
		sd, rho   float64
		takes     time.Duration
		low, high int     // readings that make one
		most      float64 // standard deviation of what comes out
	}{
		{"quiet", 0.3, 0, 0, 1, 1, 0.35},
		{"white noise", 2, 0, 0, 8, 45, 0.6},
		{"neighbours alike", 2, 0.5, 0, 12, 64, 0.7},
		{"slow", 4, 0, 100 * time.Millisecond, 10, 10, 1.5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := noise.NewSteady(shaky(tt.sd, tt.rho, tt.takes), noise.SteadyOpts{})
				if _, _, ok := s.Chosen(); ok {
					t.Error("it chose before it had measured")
				}
				for range 20 {
					s.Read(t.Context())
				}
				var out []float64
				for range 300 {
					from := time.Now()
					r, err := s.Read(t.Context())
					if err != nil {
						t.Fatal(err)
					}
					if took := time.Since(from); took > time.Second {
						t.Fatalf("one reading took %v", took)
					}
					if n, st, ok := s.Chosen(); !ok || n < tt.low || n > tt.high {
						t.Fatalf("%d readings make one, want %d to %d (%+v)", n, tt.low, tt.high, st)
					}
					out = append(out, r.Value)
				}
				if sd := noise.Of(out).SD; sd > tt.most {
					t.Errorf("what comes out scatters by %.2f, want at most %.2f", sd, tt.most)
				}
			})
		})
	}
}

// A sensor that is dead costs a read or two, not a burst of them.
func TestSteadyGivesUp(t *testing.T) {
	reads, good, gone := 0, 0, errors.New("gone")
	s := noise.NewSteady(source(func(context.Context) (sensor.Reading, error) {
		if reads++; reads <= good {
			return sensor.Reading{Value: 100}, nil
		}
		return sensor.Reading{}, gone
	}), noise.SteadyOpts{})
	if _, err := s.Read(t.Context()); !errors.Is(err, gone) || reads != 1 {
		t.Errorf("dead at the start: %d reads, %v", reads, err)
	}
	good = reads + 1
	if _, err := s.Read(t.Context()); err != nil {
		t.Errorf("alive: %v", err)
	}
	reads, good = 0, 0
	if _, err := s.Read(t.Context()); !errors.Is(err, gone) || reads != 2 {
		t.Errorf("dead again: %d reads, %v", reads, err)
	}
}

func TestSteadyDoesNotAllocate(t *testing.T) {
	s := noise.NewSteady(row(100, 101, 100), noise.SteadyOpts{})
	ctx := t.Context()
	for range 30 {
		s.Read(ctx)
	}
	if n := testing.AllocsPerRun(100, func() { s.Read(ctx) }); n != 0 {
		t.Errorf("%v allocations a reading", n)
	}
}

// A ranger whose single reading takes half a second, as nine pings do, has a
// distance from the first round on: what is taken to learn its noise fits into
// the time that a poller gives, 2 s.
func TestSlowSourceReadsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := source(func(ctx context.Context) (sensor.Reading, error) {
			select {
			case <-time.After(540 * time.Millisecond):
				return sensor.Reading{At: time.Now(), Quantity: sensor.Distance, Value: 100}, nil
			case <-ctx.Done():
				return sensor.Reading{}, ctx.Err()
			}
		})
		s := noise.NewSteady(slow, noise.SteadyOpts{})
		for i := range 40 {
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
			if _, err := s.Read(ctx); err != nil {
				t.Fatalf("reading %d: %v", i, err)
			}
			cancel()
		}
	})
}
