package peak

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"leavend/peak/growth"
)

// This file invents curves that share nothing with those of the other files: a
// published growth curve times a collapse that is our choice, on the pace of the
// yeast of sourdough, with what a spoon leaves behind, under the recorded noise of
// a real sensor. Nothing is learnt or chosen from them.

// foreignKinds are a rise after Zwietering et al. (1990) or Baranyi and Roberts
// (1994), see growth_test.go, and a collapse that sets in at hours and goes on as
// an exponential or as a logistic.
var foreignKinds = []struct {
	name           string
	rise, collapse func(r *rand.Rand) shape
}{
	{"zw-exp", zwieteringRise, exponentialCollapse},
	{"zw-log", zwieteringRise, logisticCollapse},
	{"ba-exp", baranyiRise, exponentialCollapse},
	{"ba-log", baranyiRise, logisticCollapse},
}

func zwieteringRise(r *rand.Rand) shape {
	g := Growth{LagHours: uniform(r, 0.3, 2.5), RateMMH: logUniform(r, 0.12, 0.6), SizeMM: 1}
	return g.Gompertz
}

func baranyiRise(r *rand.Rand) shape {
	logK, mu, h0 := uniform(r, 1.5, 3.5), logUniform(r, 0.4, 1.2), uniform(r, 0.2, 1.5)
	return func(u float64) float64 { return math.Expm1(Baranyi(u, 0, logK, mu, h0)) / math.Expm1(logK) }
}

func exponentialCollapse(r *rand.Rand) shape {
	from, tau, keep := uniform(r, 3, 9), logUniform(r, 1, 8), uniform(r, 0.2, 0.7)
	return func(u float64) float64 {
		x := max(u-from, 0) / tau
		return keep + (1-keep)*math.Exp(-x*x/(1+x))
	}
}

func logisticCollapse(r *rand.Rand) shape {
	mid, wide, keep := uniform(r, 5, 12), logUniform(r, 0.3, 2), uniform(r, 0.2, 0.7)
	return func(u float64) float64 { return keep + (1-keep)/(1+math.Exp((u-mid)/wide)) }
}

// recordedNoise reads the hour of a still VL53L0X in sim/testdata, one-second
// means about their mean, mm.
func recordedNoise(t *testing.T) (v []float64) {
	f, err := os.Open("../sensor/sim/testdata/vl53l0x-static-1h.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	mean := 0.0
	for _, row := range rows[1:] {
		x, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		v, mean = append(v, x), mean+x
	}
	for i := range v {
		v[i] -= mean / float64(len(v))
	}
	return v
}

// foreign invents one marked feed. The recorded noise goes to and fro from a
// moment of its own, either way up.
func foreign(kind int, seed uint64, noise []float64, level float64) invented {
	r := rand.New(rand.NewPCG(seed, 53))
	k := newScene(r)
	warm := uniform(r, 18, 27)
	k.temp = func(h float64) float64 {
		return warm + 0.7*math.Sin(2*math.Pi*(h+uniform(rand.New(rand.NewPCG(seed, 1)), 0, 24))/24)
	}
	yeast := growth.Ganzle{A: 0.0124, B: 2.981, C: 0.3355, TMax: 36} // K. humilis, as quoted from Gänzle et al. 1998
	up, down := foreignKinds[kind].rise(r), foreignKinds[kind].collapse(r)
	size := logUniform(r, 15, 110)
	settle, settling := uniform(r, 0, 3), uniform(r, 0.2, 0.8)
	dent, closing := uniform(r, -4, 4), uniform(r, 0.1, 0.5)
	const step = 1.0 / 120
	grid, u := make([]float64, 40*120), 0.0
	for i := range grid {
		h := float64(i) * step
		grid[i] = size*up(u)*down(u) + settle*math.Expm1(-h/settling) + dent*math.Exp(-h/closing)
		u += step * yeast.Growth(k.temp(h)) / yeast.Growth(25)
	}
	tr := foreignTruth(grid, step)
	offset, sign := r.IntN(2*len(noise)), float64(2*r.IntN(2)-1)
	k.wander, k.noise = 0, logUniform(r, 0.2, 0.8)
	base := -uniform(r, 120, 175) - max(size-70, 0)
	hours := min(max(tr.hi+3, tr.peak*1.5), 39)
	rows := k.record(hours, func(h float64) float64 {
		n := (offset + int(h*3600)) % (2 * len(noise))
		return base + gridAt(grid, h) + level*sign*noise[min(n, 2*len(noise)-1-n)]
	}, nil, nil)
	rows[0].fed = true
	return invented{name: foreignKinds[kind].name, rows: rows, feeds: []truth{tr}, hours: hours}
}

// foreignTruth finds the peak after the spoon's marks have gone, and how long the
// jar stands near it.
func foreignTruth(grid []float64, step float64) truth {
	at := 120
	low := grid[at]
	for i := at; i < len(grid); i++ {
		low = min(low, grid[i])
		if grid[i] > grid[at] {
			at = i
		}
	}
	rise := grid[at] - min(grid[0], grid[120])
	around := func(tol float64) (lo, hi float64) {
		i, j := at, at
		for i > 0 && grid[i-1] >= grid[at]-tol {
			i--
		}
		for j < len(grid)-1 && grid[j+1] >= grid[at]-tol {
			j++
		}
		return float64(i) * step, float64(j) * step
	}
	tr := truth{peak: float64(at) * step, rise: rise, peaked: rise > 8 && at < len(grid)-240, marked: true}
	tr.lo, tr.hi = around(max(0.02*rise, 1))
	tr.lo5, tr.hi5 = around(max(0.05*rise, 2))
	return tr
}

// TestForeign reports on these curves, under no wander beyond white noise, and
// under the recorded noise as it is and doubled.
//
//	LEAVEND_SEED=3 LEAVEND_CURVES=100 go test -run '^TestForeign$' -v ./peak
func TestForeign(t *testing.T) {
	n, noise := campaignSize(4), recordedNoise(t)
	for _, level := range []float64{0, 1, 2} {
		parts := make([]tally, len(foreignKinds)*n)
		inParallel(len(parts), func(i int) {
			rec := foreign(i/n, 83_000_000+campaignSeed()*1_000_000+uint64(i), noise, level)
			parts[i].add(rec, starts, runInvented(rec, Opts{}))
		})
		var all tally
		for i := range parts {
			all.rows = append(all.rows, parts[i].rows...)
		}
		t.Logf("recorded noise times %.0f\n%s", level, all.report())
		if f := figuresOf(all.rows); f.onTop < 40 || f.extra > 0 {
			t.Errorf("times %.0f: on-top %.1f %%, %d called twice", level, f.onTop, f.extra)
		}
	}
}
