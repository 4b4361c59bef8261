package dough

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// readings are a temperature every five minutes for some hours.
func readings(hours float64, at func(time.Duration) float64) (after []time.Duration, tempC []float64) {
	for d := time.Duration(0); d.Hours() <= hours; d += 5 * time.Minute {
		after, tempC = append(after, d), append(tempC, at(d))
	}
	return after, tempC
}

// TestSettlingOfASphere fits the exact solution of conduction in a sphere (Carslaw and
// Jaeger, Conduction of Heat in Solids; also in any textbook of heat transfer, from memory).
// At a Biot number of 1 the eigenvalues are odd halves of π, and the middle is at
// Σ 2 sin(ζ)/ζ exp(-ζ² Fo): after a lag it halves each ln 2 / ζ₁².
func TestSettlingOfASphere(t *testing.T) {
	const scale = 4.0 // hours for a Fourier number of 1
	theta := func(d time.Duration) float64 {
		sum, fo := 0.0, d.Hours()/scale
		for n := range 40 {
			z := (float64(n) + 0.5) * math.Pi
			sum += 2 * math.Sin(z) / z * math.Exp(-z*z*fo)
		}
		return sum
	}
	after, tempC := readings(8, func(d time.Duration) float64 {
		if d == 0 {
			return 25
		}
		return 4 + 21*theta(d)
	})
	s, ok := FitSettling(after, tempC)
	want := math.Ln2 / (math.Pi * math.Pi / 4) * scale
	if !ok || math.Abs(s.Halves.Hours()/want-1) > 0.15 || math.Abs(s.ToC-4) > 0.5 {
		t.Errorf("it halves in %.2f h to %.1f °C (%v), want %.2f h to 4", s.Halves.Hours(), s.ToC, ok, want)
	}
}

// Invented jars and doughs in an invented fridge: a probe that counts in sixteenths of a
// degree and wanders, a fridge that swings, a door that opens.
func TestSettlingInAFridge(t *testing.T) {
	for _, half := range []time.Duration{25 * time.Minute, time.Hour, 2 * time.Hour} {
		r := rand.New(rand.NewPCG(3, uint64(half)))
		after, tempC := readings(5*half.Hours(), func(d time.Duration) float64 {
			c := 5 + 19*math.Exp2(-float64(d)/float64(half)) + 0.8*math.Sin(2*math.Pi*d.Minutes()/35) + 0.2*r.NormFloat64()
			return math.Round(16*c) / 16
		})
		tempC[len(tempC)/2] += 2
		s, ok := FitSettling(after, tempC)
		if !ok || math.Abs(float64(s.Halves)/float64(half)-1) > 0.15 || math.Abs(s.ToC-5) > 0.6 {
			t.Errorf("%v: it halves in %v to %.1f °C, off by %.2f (%v)", half, s.Halves, s.ToC, s.OffC, ok)
		}
	}
}

// On a mat it is the same law upwards.
func TestSettlingOnAMat(t *testing.T) {
	after, tempC := readings(3, func(d time.Duration) float64 { return 26 - 6*math.Exp2(-d.Minutes()/40) })
	if s, ok := FitSettling(after, tempC); !ok || math.Abs(s.Halves.Minutes()-40) > 3 || math.Abs(s.ToC-26) > 0.1 {
		t.Errorf("got %+v, %v", s, ok)
	}
}

func TestWhatDoesNotSettle(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for name, at := range map[string]func(time.Duration) float64{
		"a probe that stayed in the room":  func(time.Duration) float64 { return 21 + 0.2*r.NormFloat64() },
		"one that cools all the time":      func(d time.Duration) float64 { return 25 - 1.5*d.Hours() },
		"one that was taken out again":     func(d time.Duration) float64 { return 15 + 8*math.Cos(d.Hours()*2) },
		"one that cools by two degrees":    func(d time.Duration) float64 { return 19 + 2*math.Exp2(-d.Hours()) },
		"one that has only begun to cool":  func(d time.Duration) float64 { return 4 + 20*math.Exp2(-d.Hours()/8) },
		"one that reads nothing but noise": func(time.Duration) float64 { return 15 + 6*r.NormFloat64() },
	} {
		after, tempC := readings(6, at)
		if s, ok := FitSettling(after, tempC); ok {
			t.Errorf("%s settles: %+v", name, s)
		}
	}
	after, tempC := readings(0.7, func(d time.Duration) float64 { return 4 + 20*math.Exp2(-d.Minutes()/10) })
	if _, ok := FitSettling(after, tempC); ok {
		t.Error("nine readings are enough")
	}
}

func TestSlower(t *testing.T) {
	usual := Cooling{MassKg: 0.5}
	s := Settling{Halves: time.Duration(2 * math.Ln2 * float64(usual.In()))}
	if got := s.Slower(0.5); math.Abs(got-2) > 1e-6 {
		t.Errorf("twice as slow is %g", got)
	}
}
