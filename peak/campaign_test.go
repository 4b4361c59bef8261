package peak

import (
	"os"
	"strconv"
	"sync"
	"testing"

	"leavend/sensor/sim/simtest"
)

// campaignSize returns how many curves a family gets: a few in CI, many when
// LEAVEND_CURVES says so.
func campaignSize(small int) int {
	if n, err := strconv.Atoi(os.Getenv("LEAVEND_CURVES")); err == nil {
		return n
	}
	return small
}

func campaignSeed() uint64 {
	n, _ := strconv.ParseUint(os.Getenv("LEAVEND_SEED"), 10, 64)
	return n
}

// inventedSet draws the whole campaign: n marked feeds of each family, 2n
// quiet recordings, n/4 histories and unmarked ones of each family.
func inventedSet(n int, seed uint64) []func() invented {
	var set []func() invented
	for i, f := range families {
		for j := range n {
			s := seed*1_000_003 + uint64(i*100_000+j)
			set = append(set, func() invented { return single(f, s) })
			if j%4 == 0 {
				set = append(set, func() invented { return several(f, s, 7, true) })
				set = append(set, func() invented { return several(f, s, 4, false) })
			}
		}
	}
	for j := range 2 * n {
		s := seed*1_000_003 + 50_000_000 + uint64(j)
		set = append(set, func() invented { return quiet(s) })
	}
	return set
}

func runSet(set []func() invented) *tally {
	return runSetWith(set, func(rec invented) []Event { return runInvented(rec, Opts{}) })
}

func runSetWith(set []func() invented, run func(invented) []Event) *tally {
	var sum tally
	var mu sync.Mutex
	var wg sync.WaitGroup
	work := make(chan func() invented)
	for range 2 {
		wg.Go(func() {
			for f := range work {
				rec := f()
				ev := run(rec)
				mu.Lock()
				sum.add(rec, starts, ev)
				mu.Unlock()
			}
		})
	}
	for _, f := range set {
		work <- f
	}
	close(work)
	wg.Wait()
	return &sum
}

// TestCampaign holds rough figures on curves that were not learnt from. The
// limits leave room for the small number of curves of a usual run.
func TestCampaign(t *testing.T) {
	simtest.NotUnderRace(t)
	sum := runSet(inventedSet(campaignSize(4), campaignSeed()))
	t.Log("\n" + sum.report())
	f := figuresOf(sum.rows)
	if f.onTop < 65 || f.miss*33 > f.n {
		t.Errorf("on-top %.1f %%, missed %d of %d", f.onTop, f.miss, f.n)
	}
	if float64(sum.falseCalls) > 2+sum.quietHours/100 {
		t.Errorf("%d false calls in %.0f h without a peak", sum.falseCalls, sum.quietHours)
	}
}
