package peak

import (
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// sensorWander is the wander of the recorded VL53L0X (see sim.MeasuredWander).
const (
	sensorWanderMM  = 1.1
	sensorWanderTau = 7.5 / 60 // hours
)

// heldBack invents one marked feed of a kind: rises of 8 to 150 mm, 2 to 60 s
// between readings, and the wander of a real sensor times level.
func heldBack(f family, seed uint64, level float64) invented {
	r := rand.New(rand.NewPCG(seed, 41))
	k := usualScene(r, level)
	warmPeak := math.Exp(math.Log(6.5) + 0.35*r.NormFloat64())
	rise := logUniform(r, 8, 150)
	if r.IntN(2) == 0 {
		rise = uniform(r, 25, 90)
	}
	return k.oneFeed(f, warmPeak, rise)
}

// usualScene is what surrounds a jar under a ranger whose wander is that of a
// recorded one times level.
func usualScene(r *rand.Rand, level float64) scene {
	k := newScene(r)
	k.period = []float64{2, 5, 10, 15, 30, 60}[r.IntN(6)] / 3600
	k.noise = logUniform(r, 0.3, 2.1)
	k.wander, k.wanderTau = sensorWanderMM*level, sensorWanderTau*logUniform(r, 0.7, 1.4)
	k.spikes = []float64{0, 0, 0, 0.002}[r.IntN(4)]
	k.glints = r.IntN(2) * r.IntN(3)
	return k
}

// oneFeed records one marked feed of a kind.
func (k *scene) oneFeed(f family, warmPeak, rise float64) invented {
	r := k.r
	grid, tr := k.lay(f.make(r, warmPeak, rise), 0, 60)
	hours := min(max(tr.hi+3, tr.peak*1.5), 59)
	tr.marked = true
	base := -uniform(r, 120, 175)
	if rise > 70 {
		base -= rise - 70
	}
	lifts, gaps := k.trouble(0.3, hours, base-uniform(r, 25, 60))
	rows := k.record(hours, func(h float64) float64 { return base + gridAt(grid, h) }, lifts, gaps)
	rows[0].fed = true
	return invented{name: f.name, rows: rows, feeds: []truth{tr}, hours: hours}
}

// heldBackTally runs n feeds of each kind, spread over all cores.
func heldBackTally(kinds []family, n int, level float64, run func(invented) []Event) *tally {
	parts := make([]tally, len(kinds)*n)
	inParallel(len(parts), func(i int) {
		rec := heldBack(kinds[i/n], campaignSeed()*1_000_000+uint64(i), level)
		parts[i].add(rec, starts, run(rec))
	})
	var all tally
	for i := range parts {
		all.rows = append(all.rows, parts[i].rows...)
		all.falseCalls += parts[i].falseCalls
	}
	return &all
}

// TestHeldBack reports on kinds of curves that nothing was learnt or chosen
// from, under no wander, half, whole and twice that of a real sensor.
//
//	LEAVEND_CURVES=250 go test -run '^TestHeldBack$' -v ./peak
func TestHeldBack(t *testing.T) {
	n := campaignSize(4)
	kinds := reportKinds
	if strings.Contains(os.Getenv("LEAVEND_KINDS"), "choose") {
		kinds = chooseKinds
	}
	for _, level := range []float64{0, 0.5, 1, 2} {
		sum := heldBackTally(kinds, n, level, func(rec invented) []Event { return runInvented(rec, Opts{}) })
		t.Logf("wander %.1f\n%s", level, sum.report())
		if f := figuresOf(sum.rows); f.onTop < 40 || f.extra > 0 {
			t.Errorf("wander %.1f: on-top %.1f %%, %d called twice", level, f.onTop, f.extra)
		}
	}
}

// TestHindsight prints what smoothers that see the whole recording reach on the
// same feeds: local quadratics with bells of different widths.
//
//	LEAVEND_CURVES=250 go test -run '^TestHindsight$' -v ./peak
func TestHindsight(t *testing.T) {
	n := campaignSize(0)
	if n == 0 {
		t.Skip("set LEAVEND_CURVES, to 100 say")
	}
	for _, level := range []float64{0, 0.5, 1, 2} {
		for _, bell := range []float64{10, 20, 40} {
			f := figuresOf(heldBackTally(reportKinds, n, level, func(rec invented) []Event { return hindsightTops(rec, starts, bell/60) }).rows)
			t.Logf("wander %.1f, bell of %2.0f min: on-top %.1f %%, near %.1f %%", level, bell, f.onTop, f.near)
		}
	}
}
