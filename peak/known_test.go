package peak

import (
	"math/rand/v2"
	"sync"
	"testing"

	"leavend/sensor/sim/simtest"
)

// TestKnown runs the same feeds three times: as those of a new starter, with
// the starter's own past feeds on record, and with a past of another pace and
// size, as after a change of the ratio, of the jar or of the flour.
//
//	LEAVEND_CURVES=200 go test -run '^TestKnown$' -v ./peak
func TestKnown(t *testing.T) {
	n := campaignSize(6)
	groups := [...]string{"new", "known", "changed"}
	var sums [len(groups)]tally
	var mu sync.Mutex
	inParallel(n, func(i int) {
		seed := 61_000_000 + campaignSeed()*10_000 + uint64(i)
		for k, f := range feedByFeed(fromKitchen(simtest.History(seed, 6))) {
			if len(f.past) == 0 {
				continue
			}
			other := estrange(f.past, rand.New(rand.NewPCG(seed, uint64(k))))
			for g, past := range [...][]Feed{nil, f.past, other} {
				f.rec.name = groups[g]
				events := runInvented(f.rec, Opts{History: past})
				mu.Lock()
				sums[g].add(f.rec, f.rec.rows[0].at, events)
				mu.Unlock()
			}
		}
	})
	var onTop [len(groups)]float64
	for g := range sums {
		t.Logf("%s: %s", groups[g], sums[g].report())
		onTop[g] = figuresOf(sums[g].rows).onTop
	}
	if onTop[1] < 85 || onTop[1] < onTop[0] || onTop[2] < onTop[0]-10 {
		t.Errorf("on top %.0f %% as new, %.0f %% with its past, %.0f %% with another's", onTop[0], onTop[1], onTop[2])
	}
}

// TestKnownWithoutTop runs recordings in which no top comes, as those of a new
// starter and of one that had risen on other days.
//
//	LEAVEND_CURVES=200 go test -run '^TestKnownWithoutTop$' -v ./peak
func TestKnownWithoutTop(t *testing.T) {
	simtest.NotUnderRace(t)
	n := campaignSize(12)
	var fresh, known tally
	for i := range n {
		past := feedByFeed(fromKitchen(simtest.History(62_000_000+uint64(i%60), 4)))
		rec := quiet(62_000_000 + campaignSeed()*10_000 + uint64(i))
		fresh.add(rec, rec.rows[0].at, runInvented(rec, Opts{}))
		known.add(rec, rec.rows[0].at, runInvented(rec, Opts{History: past[len(past)-1].past}))
	}
	t.Logf("of %d recordings without a top %d are called of a new starter, %d of a known one", n, fresh.falseCalls, known.falseCalls)
	if known.falseCalls > fresh.falseCalls+2+n/50 {
		t.Error("a past makes calls where there is no top")
	}
}
