package peak

import (
	"math"
	"math/rand/v2"
	"testing"

	"leavend/sensor/sim/simtest"
)

// edge is a hard case: what it changes of a usual scene.
type edge struct {
	name     string
	set      func(k *scene, warmPeak, rise *float64)
	least    float64 // % on top that even a few feeds reach
	peaksFor func(tr truth) bool
}

// thaw is the hour at which a jar comes out of the fridge in chilled.
const thaw = 31.5

// chilled puts the jar into the fridge after an hour and a half, for 30 hours.
func chilled(k *scene, warmPeak *float64) {
	day, cold, warming := k.temp, uniform(k.r, 3, 6), uniform(k.r, 0.4, 1.2)
	k.temp = func(h float64) float64 {
		if h < 1.5 {
			return day(h)
		}
		in := -math.Expm1(-(min(h, thaw) - 1.5) / 0.7)
		return day(h) + (cold-day(h))*in*math.Exp(-max(h-thaw, 0)/warming)
	}
	*warmPeak = uniform(k.r, 2.2, 9)
}

var edges = []edge{
	{name: "rise of 8 to 15 mm", least: 30, set: func(k *scene, _, rise *float64) { *rise = uniform(k.r, 8, 15) }},
	{name: "rise of 100 to 150 mm", least: 50, set: func(k *scene, _, rise *float64) { *rise = uniform(k.r, 100, 150) }},
	{name: "an echo with steps of 3 mm", least: 40, set: func(k *scene, _, _ *float64) {
		k.quantum, k.noise, k.wander = 3, logUniform(k.r, 0.5, 3), k.wander*uniform(k.r, 0, 0.5)
	}},
	{name: "fridge, peak 2 h and more after it", least: 40, set: func(k *scene, warmPeak, _ *float64) { chilled(k, warmPeak) },
		peaksFor: func(tr truth) bool { return tr.peak > thaw+2 }},
	{name: "fridge, peak within 2 h of it", least: 0, set: func(k *scene, warmPeak, _ *float64) { chilled(k, warmPeak); *warmPeak = uniform(k.r, 2, 3.5) },
		peaksFor: func(tr truth) bool { return tr.peak > thaw && tr.peak <= thaw+2 }},
	{name: "every minute", least: 40, set: func(k *scene, _, _ *float64) { k.period = 1.0 / 60 }},
	{name: "lifted three times", least: 40, set: func(k *scene, _, _ *float64) { k.lifts = 3 }},
}

// TestEdges reports each hard case apart, on the kinds of curves that nothing
// was learnt or chosen from, under the wander of a real sensor times level.
//
//	LEAVEND_CURVES=60 go test -run '^TestEdges$' -v ./peak
func TestEdges(t *testing.T) {
	simtest.NotUnderRace(t)
	n := campaignSize(3)
	for _, level := range []float64{0, 1} {
		for _, e := range edges {
			parts := make([]tally, len(reportKinds)*n)
			inParallel(len(parts), func(i int) {
				r := rand.New(rand.NewPCG(campaignSeed()*1_000_000+uint64(i), 47))
				k := usualScene(r, level)
				warmPeak, rise := math.Exp(math.Log(6.5)+0.35*r.NormFloat64()), uniform(r, 25, 90)
				e.set(&k, &warmPeak, &rise)
				rec := k.oneFeed(reportKinds[i/n], warmPeak, rise)
				if e.peaksFor == nil || e.peaksFor(rec.feeds[0]) {
					parts[i].add(rec, starts, runInvented(rec, Opts{}))
				}
			})
			var rows []outcome
			for i := range parts {
				rows = append(rows, parts[i].rows...)
			}
			f := figuresOf(rows)
			t.Logf("wander %.0f, %-36s n=%3d on top %3.0f %% near %3.0f %%, %d early, %d late, %d missed, held %.0f %.0f %.0f %.0f", level, e.name, f.n, f.onTop, f.near, f.early, f.late, f.miss, f.held[0], f.held[1], f.held[2], f.held[3])
			if level == 0 && f.n >= 8 && f.onTop < e.least {
				t.Errorf("%s: %.0f %% on top", e.name, f.onTop)
			}
		}
	}
}

// TestCases reports each case of the kitchen's catalogue apart.
//
//	LEAVEND_CURVES=100 go test -run '^TestCases$' -v ./peak
func TestCases(t *testing.T) {
	n := campaignSize(0)
	if n == 0 {
		t.Skip("set LEAVEND_CURVES, to 100 say; TestCatalogue plays a few of each")
	}
	for _, e := range simtest.Catalogue() {
		parts := make([]tally, n)
		inParallel(n, func(i int) {
			r := e.Record(campaignSeed()*1000 + 500 + uint64(i))
			rec := fromKitchen(r)
			parts[i].add(rec, r.Truth.Start, runInvented(rec, Opts{}))
		})
		var all tally
		for i := range parts {
			all.rows = append(all.rows, parts[i].rows...)
			all.falseCalls += parts[i].falseCalls
			all.falseFeeds += parts[i].falseFeeds
		}
		f := figuresOf(all.rows)
		t.Logf("%-42s n=%3d on top %3.0f %% near %3.0f %%, %d early, %d late, %d missed, %d twice; %d false calls, %d feeds invented", e.Name, f.n, f.onTop, f.near, f.early, f.late, f.miss, f.extra, all.falseCalls, all.falseFeeds)
	}
}
