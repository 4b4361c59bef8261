package fold_test

import (
	"math"
	"testing"
	"time"

	"leavend/peak/fold"
)

// begin is an invented evening; the bowl rises evenly by 10 mm an hour.
var begin = time.Date(2026, 11, 28, 18, 0, 0, 0, time.UTC)

// play runs a level through the filter, a reading each quarter of a minute, and
// returns when folds were found and how many minutes were left out.
func play(level func(min float64) float64, minutes int) (found []float64, out float64) {
	f := fold.New()
	for i := range 4 * minutes {
		min := float64(i) / 4
		mm, folded := f.Add(begin.Add(time.Duration(i)*15*time.Second), level(min))
		if folded {
			found = append(found, min)
		}
		if math.IsNaN(mm) {
			out += 0.25
		}
	}
	return found, out
}

func TestFilter(t *testing.T) {
	rise := func(min float64) float64 { return 60 + min/6 }
	during := func(min, from, to float64) bool { return min >= from && min < to }
	tests := []struct {
		name  string
		level func(float64) float64
		found int
		out   float64 // minutes left out, within 3
	}{
		{"left alone", rise, 0, 0},
		{"a hand, and a dome of 5 mm", func(m float64) float64 {
			switch {
			case during(m, 60, 61):
				return 130
			case m >= 61:
				return rise(m) + 5*math.Exp(-(m-61)/8)
			}
			return rise(m)
		}, 1, 25},
		{"a hand, and nothing changed", func(m float64) float64 {
			if during(m, 60, 61) {
				return 130
			}
			return rise(m)
		}, 0, 1},
		{"lifted off, and the dough lost gas", func(m float64) float64 {
			switch {
			case during(m, 60, 62):
				return -5
			case m >= 62:
				return rise(m) - 3
			}
			return rise(m)
		}, 0, 1},
		{"the ranger missed readings", func(m float64) float64 {
			if during(m, 60, 60.5) {
				return math.NaN()
			}
			return rise(m)
		}, 0, 2},
		{"a jump without a hand", func(m float64) float64 {
			if m >= 60 {
				return rise(m) + 6*math.Exp(-(m-60)/8)
			}
			return rise(m)
		}, 1, 25},
		{"two folds half an hour apart", func(m float64) float64 {
			over := 0.0
			for _, at := range []float64{45, 75} {
				if during(m, at-1, at) {
					return 120
				}
				if m >= at {
					over = 5 * math.Exp(-(m-at)/8)
				}
			}
			return rise(m) + over
		}, 2, 50},
		{"emptied and washed", func(m float64) float64 {
			if m >= 60 {
				return 0
			}
			return rise(m)
		}, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			found, out := play(tt.level, 150)
			if len(found) != tt.found || math.Abs(out-tt.out) > 3 {
				t.Errorf("folds found at %v, %g minutes left out; want %d and about %g", found, out, tt.found, tt.out)
			}
		})
	}
}

func TestToldOf(t *testing.T) {
	f := fold.New()
	for i := range 40 {
		f.Add(begin.Add(time.Duration(i)*15*time.Second), 60)
	}
	at := begin.Add(10 * time.Minute)
	f.Folded(at)
	if mm, _ := f.Add(at.Add(time.Minute), 60); !math.IsNaN(mm) {
		t.Errorf("a minute after the baker folded, %g mm counts", mm)
	}
	if until, running := f.Levels(at.Add(time.Minute)); !running || !until.Equal(at.Add(fold.Relaxes)) {
		t.Errorf("level again at %v, %v", until, running)
	}
	if mm, _ := f.Add(at.Add(26*time.Minute), 60); math.IsNaN(mm) {
		t.Error("after 26 minutes nothing counts yet")
	}
}

func FuzzAdd(f *testing.F) {
	f.Add(int64(15), 60.0, 130.0)
	f.Add(int64(-5), math.Inf(1), math.NaN())
	f.Fuzz(func(t *testing.T, step int64, a, b float64) {
		filter := fold.New()
		at := begin
		for i := range 60 {
			at = at.Add(time.Duration(step) * time.Second)
			mm := a
			if i%7 == 3 {
				mm = b
			}
			if got, _ := filter.Add(at, mm); !math.IsNaN(got) && got != mm {
				t.Fatalf("%g became %g", mm, got)
			}
		}
	})
}
