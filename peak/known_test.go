package peak

import (
	"math/rand/v2"
	"sync"
	"testing"

	"leavend/sensor/kitchen"
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
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := w; i < n; i += 2 {
				seed := 61_000_000 + campaignSeed()*10_000 + uint64(i)
				for k, f := range feedByFeed(fromKitchen(kitchen.History(seed, 6))) {
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
			}
		})
	}
	wg.Wait()
	var onTop [len(groups)]float64
	for g := range sums {
		t.Logf("%s: %s", groups[g], sums[g].report())
		onTop[g] = figuresOf(sums[g].rows).onTop
	}
	if onTop[1] < 85 || onTop[1] < onTop[0] || onTop[2] < onTop[0]-10 {
		t.Errorf("on top %.0f %% as new, %.0f %% with its past, %.0f %% with another's", onTop[0], onTop[1], onTop[2])
	}
}
