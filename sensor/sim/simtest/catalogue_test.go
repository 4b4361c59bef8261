package simtest

import (
	"math"
	"testing"
	"time"

	"leavend/sensor/sim"
)

// kinds returns how often each kind of disturbance is in the truth.
func kinds(r *sim.Recording) map[sim.Kind]int {
	n := map[sim.Kind]int{}
	for _, d := range r.Truth.Disturbances {
		n[d.Kind]++
	}
	return n
}

// TestCatalogueShowsWhatItsNamesSay checks each entry for the thing it is
// named for, in the rows and in the truth, over several seeds.
func TestCatalogueShowsWhatItsNamesSay(t *testing.T) {
	peaks := func(r *sim.Recording) bool { return r.Truth.Feeds[0].Peaked && !r.Truth.Feeds[0].Abrupt }
	shows := map[string]func(r *sim.Recording) bool{
		"jar lifted and put back 3 mm off": func(r *sim.Recording) bool {
			lift := r.Truth.Disturbances[0]
			return peaks(r) && kinds(r)[sim.Lifted] == 2 && math.Abs(offset(r, lift.At+lift.For)-offset(r, lift.At-4*time.Minute)-3) < 1.6
		},
		"fed and stirred without a press": func(r *sim.Recording) bool {
			f := r.Truth.Feeds
			return len(f) == 2 && f[0].Peaked && f[1].Peaked && f[0].Marked && !f[1].Marked && fedRows(r) == 1
		},
		"knocked so that it slumps": func(r *sim.Recording) bool {
			knock := r.Truth.Disturbances[0]
			return peaks(r) && knock.At < r.Truth.Feeds[0].TopAfter && fall(r, knock.At) < -2
		},
		"stuck to the glass and slipping": func(r *sim.Recording) bool {
			return peaks(r) && kinds(r)[sim.Sticking] == 1 && longestTable(r) >= 10*time.Minute
		},
		"a dome, then a crater": func(r *sim.Recording) bool { return peaks(r) && r.Opts.Starter.CraterMM > r.Opts.Starter.DomeMM },
		"foam that wanders":     func(r *sim.Recording) bool { return peaks(r) && unrest(r, sim.Foaming) > 2 && calm(r) < 1.5 },
		"condensation": func(r *sim.Recording) bool {
			return peaks(r) && math.Abs(offset(r, r.Truth.Disturbances[0].At+time.Hour)-4) < 2 && statuses(r)[sim.StatusSigma] > 20
		},
		"a hand": func(r *sim.Recording) bool {
			return peaks(r) && kinds(r)[sim.Hand] == 4 && math.Abs(offset(r, r.Truth.Disturbances[2].At+time.Minute)) > 15
		},
		"overflow to the sensor's near limit": func(r *sim.Recording) bool {
			return kinds(r)[sim.Overflowing] >= 1 && statuses(r)[sim.StatusBounds] > 10
		},
		"second rise after a stir": func(r *sim.Recording) bool { return peaks(r) && secondRise(r) > 6 },
		"fridge half-way and taken out tomorrow": func(r *sim.Recording) bool {
			out := r.Truth.Disturbances[0].At + r.Truth.Disturbances[0].For
			return peaks(r) && r.Truth.Feeds[0].TopAfter > out
		},
		"dead starter": func(r *sim.Recording) bool { return !peaked(&r.Truth) && r.Truth.Feeds[0].RiseMM < 0.01 },
		"daemon off for an hour": func(r *sim.Recording) bool {
			return peaks(r) && longestGap(r) > 59*time.Minute && longestGap(r) < 62*time.Minute
		},
		"clock jumping": func(r *sim.Recording) bool { return peaks(r) && backwards(r) == 1 },
		"ranger unplugged and plugged in again": func(r *sim.Recording) bool {
			return peaks(r) && statuses(r)[sim.StatusNone] == int(30*time.Minute/r.Opts.Every)
		},
		"glints from the glass":                    func(r *sim.Recording) bool { return peaks(r) && nearer(r, 28) > 60 },
		"probe says 85, then sticks, then is gone": func(r *sim.Recording) bool { return peaks(r) && hot(r) >= 4 && coldless(r) > 100 },
		"a dough to its target and past it": func(r *sim.Recording) bool {
			at, ok := reachedAfter(&r.Truth, 0, 1.75)
			return ok && at > 3*time.Hour && at < r.Truth.Feeds[0].TopAfter && r.Truth.Feeds[0].Peaked
		},
	}
	for _, e := range Catalogue() {
		t.Run(e.Name, func(t *testing.T) {
			check := shows[e.Name]
			if check == nil {
				t.Fatal("nothing is checked")
			}
			for seed := range uint64(3) {
				if r := e.Record(seed); r.Name != e.Name || !check(r) {
					t.Errorf("seed %d does not show it: %v, truth %+v", seed, r.Truth.Disturbances, r.Truth.Feeds)
				}
			}
		})
	}
}

// offset is by how much the measured height lies above the true one in the
// three minutes after a moment (the median).
func offset(r *sim.Recording, at time.Duration) float64 {
	var in []float64
	for i, h := range r.Heights() {
		if e := r.Rows[i].Elapsed; e > at && e < at+3*time.Minute && !math.IsNaN(h) {
			in = append(in, h-r.Truth.HeightMM[int(e/r.Truth.Every)])
		}
	}
	return middle(in)
}

// unrest is the standard deviation of the measured against the true height
// while a disturbance of the kind goes on, spikes left out.
func unrest(r *sim.Recording, k sim.Kind) float64 {
	for _, d := range r.Truth.Disturbances {
		if d.Kind == k {
			return deviation(r, d.At, d.At+d.For)
		}
	}
	return 0
}

// calm is the same over the first hour, before anything happens.
func calm(r *sim.Recording) float64 { return deviation(r, 0, time.Hour) }

func deviation(r *sim.Recording, from, to time.Duration) float64 {
	n, sum := 0.0, 0.0
	for i, h := range r.Heights() {
		if e := r.Rows[i].Elapsed; e >= from && e < to {
			if d := h - r.Truth.HeightMM[int(e/r.Truth.Every)]; math.Abs(d) < 12 {
				n, sum = n+1, sum+d*d
			}
		}
	}
	return math.Sqrt(sum / n)
}

// fall is the change of the true height over the tick of a moment.
func fall(r *sim.Recording, at time.Duration) float64 {
	i := int(at/r.Truth.Every) + 1
	return r.Truth.HeightMM[i+1] - r.Truth.HeightMM[i-1]
}

func fedRows(r *sim.Recording) (n int) {
	for _, row := range r.Rows {
		if row.Fed {
			n++
		}
	}
	return n
}

func statuses(r *sim.Recording) map[string]int {
	n := map[string]int{}
	for _, row := range r.Rows {
		n[row.Status]++
	}
	return n
}

func longestGap(r *sim.Recording) (gap time.Duration) {
	for i := 1; i < len(r.Rows); i++ {
		gap = max(gap, r.Rows[i].Elapsed-r.Rows[i-1].Elapsed)
	}
	return gap
}

func backwards(r *sim.Recording) (n int) {
	for i := 1; i < len(r.Rows); i++ {
		if r.Rows[i].At.Before(r.Rows[i-1].At) {
			n++
		}
	}
	return n
}

func nearer(r *sim.Recording, mm float64) (n int) {
	for _, row := range r.Rows {
		if row.DistanceMM < mm {
			n++
		}
	}
	return n
}

func hot(r *sim.Recording) (n int) {
	for _, row := range r.Rows {
		if row.TempC == 85 {
			n++
		}
	}
	return n
}

func coldless(r *sim.Recording) (n int) {
	for _, row := range r.Rows {
		if math.IsNaN(row.TempC) {
			n++
		}
	}
	return n
}

// longestTable is for how long the true height did not move at all after the
// start of the rise.
func longestTable(r *sim.Recording) (longest time.Duration) {
	run := time.Duration(0)
	h := r.Truth.HeightMM
	for i := int(r.Truth.Feeds[0].TopAfter/r.Truth.Every) / 2; i < len(h); i++ {
		if run += r.Truth.Every; h[i] != h[i-1] {
			run = 0
		}
		longest = max(longest, run)
	}
	return longest
}

// secondRise is by how much the height rose again after the stir.
func secondRise(r *sim.Recording) float64 {
	least, most := math.Inf(1), 0.0
	for _, h := range r.Truth.HeightMM[int(r.Truth.Disturbances[0].At/r.Truth.Every)+1:] {
		least = math.Min(least, h)
		most = math.Max(most, h-least)
	}
	return most
}

func TestHistoryIsOneStarterOverManyFeeds(t *testing.T) {
	for seed := range uint64(4) {
		r := History(seed, 6)
		if len(r.Truth.Feeds) != 6 || fedRows(r) != 6 {
			t.Fatalf("seed %d: %d feeds, %d marked rows, want 6", seed, len(r.Truth.Feeds), fedRows(r))
		}
		var work []float64
		for _, f := range r.Truth.Feeds {
			if !f.Peaked {
				t.Errorf("seed %d: a feed has no top", seed)
			}
			// Time to the top in units of growth: what warmth explains is gone.
			work = append(work, (f.TopAfter-f.FedAfter).Hours()*r.Opts.Starter.Yeast.PerHour(f.MeanC))
		}
		mid := middle(work)
		for i, w := range work {
			if w < 0.7*mid || w > 1.4*mid {
				t.Errorf("seed %d: feed %d takes %.2f of the usual work", seed, i, w/mid)
			}
		}
	}
}

// reachedAfter is when the height after feed number i first stood at ratio
// times its start, counted by a steady clock from the recording's start.
func reachedAfter(t *sim.Truth, i int, ratio float64) (time.Duration, bool) {
	end := len(t.HeightMM)
	if i+1 < len(t.Feeds) {
		end = int(t.Feeds[i+1].FedAfter / t.Every)
	}
	for k := int(t.Feeds[i].FedAfter / t.Every); k < end; k++ {
		if t.HeightMM[k] >= ratio*t.Feeds[i].StartMM {
			return time.Duration(k) * t.Every, true
		}
	}
	return 0, false
}
