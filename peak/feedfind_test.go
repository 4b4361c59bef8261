package peak

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/sensor/sim/simtest"
)

// levelled is a starter that rises and falls, and what is done to it an hour
// and a half after its peak: its level drops to near where it began, with the
// jar taken away for a number of minutes first, or with none.
func levelled(seed uint64, away float64) []sample {
	r := rand.New(rand.NewPCG(seed, 5))
	base, rise := -150.0, uniform(r, 40, 80)
	c := domeCurve(r, 6, rise)
	var rows []sample
	for i := range 14 * 240 {
		h := float64(i) / 240
		y := base + c(h)
		switch {
		case h >= 7.5+away/60:
			y = base + 2 + c(h-7.5)/2
		case h >= 7.5:
			y = base - 45
		}
		rows = append(rows, sample{at: starts.Add(time.Duration(i) * 15 * time.Second), height: math.Round(y + 0.8*r.NormFloat64()), temp: 22, fed: i == 0})
	}
	return rows
}

func foundIn(events []Event) (n int) {
	for _, e := range events {
		if e.Kind == EventFed && e.Source == "found" {
			n++
		}
	}
	return n
}

// TestStirIsNoFeed: a level that drops under the sensor within one reading is
// a stir or a knock; a jar that was away for some minutes and comes back so
// low was fed.
func TestStirIsNoFeed(t *testing.T) {
	for seed := range uint64(6) {
		if n := foundIn(runRows(levelled(seed, 0), Opts{})); n != 0 {
			t.Errorf("seed %d: %d feeds found in a stir", seed, n)
		}
		if n := foundIn(runRows(levelled(seed, 4), Opts{})); n != 1 {
			t.Errorf("seed %d: %d feeds found, want the one", seed, n)
		}
	}
}

// TestStirsOfTheKitchen: the same where the stirred starter climbs at once.
func TestStirsOfTheKitchen(t *testing.T) {
	for _, seed := range []uint64{61, 1011, 1023} {
		if n := foundIn(runInvented(fromKitchen(simtest.RandomRecording(seed)), Opts{})); n != 0 {
			t.Errorf("seed %d: %d feeds found in a stir", seed, n)
		}
	}
}

// TestFeedAfterStir: a stir moves the curve and not the place of the next feed.
func TestFeedAfterStir(t *testing.T) {
	rec := fromKitchen(simtest.RandomRecording(536)) // stirred at 5 h, fed at 21.6 h
	if n := foundIn(runInvented(rec, Opts{})); n != 1 {
		t.Errorf("%d feeds found, want 1", n)
	}
}
