package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// Wander is noise that remembers itself: an Ornstein-Uhlenbeck process, whose
// spectrum is flat below the frequency 1/(2π·For) and falls with its square
// above. Several of them add up to nearly any spectrum that falls.
type Wander struct {
	MM  float64       // one standard deviation
	For time.Duration // its correlation falls to 1/e within this time
}

// MeasuredWander is the wander of a still VL53L0X (20 ms budget, white card at
// 76 mm, four hours): one-minute means with a standard deviation of 1.1 mm,
// correlated by 0.89, 0.55 and 0.24 after 1, 5 and 10 minutes, and an Allan
// deviation of 0.18 mm at 5 s that rises to 0.6 mm at 5 to 10 minutes. Dataset
// tomisuarez2/TimeOfFlightCalibration, MIT licence, copyright 2025 Tomas
// Suarez. Two terms meet all of these figures; the quick one is what the
// deviation at 5 s has beyond white noise.
func MeasuredWander() []Wander {
	return []Wander{{MM: 1.1, For: 450 * time.Second}, {MM: 0.2, For: 12 * time.Second}}
}

// wandering is wander in progress.
type wandering struct {
	terms []Wander
	now   []float64
	keep  []float64     // the share of each term that is left after wait
	wait  time.Duration // the time between two readings for which keep was worked out
}

// next moves on by the given time and returns the sum of the terms. It begins
// anywhere within the spread.
func (w *wandering) next(since time.Duration, rng *rand.Rand) float64 {
	if w.now == nil {
		w.now, w.keep, w.wait = make([]float64, len(w.terms)), make([]float64, len(w.terms)), -1
		for i, t := range w.terms {
			w.now[i] = t.MM * rng.NormFloat64()
		}
	}
	if since != w.wait {
		w.wait = since
		for i, t := range w.terms {
			w.keep[i] = math.Exp(-since.Seconds() / math.Max(t.For.Seconds(), 1e-9))
		}
	}
	sum := 0.0
	for i, t := range w.terms {
		k := w.keep[i]
		w.now[i] = k*w.now[i] + t.MM*math.Sqrt(1-k*k)*rng.NormFloat64()
		sum += w.now[i]
	}
	return sum
}
