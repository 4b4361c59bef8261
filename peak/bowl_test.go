package peak

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestBowl: dough in a bowl is called within a few minutes of its target, and
// the forecast before it is honest.
func TestBowl(t *testing.T) {
	var delay, err60, err80 []float64
	held, offered := 0, 0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 17))
		k := newScene(r)
		f := families[seed%2]
		base, ratio := uniform(r, 45, 90), uniform(r, 1.4, 2)
		rise := base * (ratio - 1) * uniform(r, 1.15, 2)
		grid, _ := k.lay(f.make(r, math.Exp(math.Log(7)+0.2*r.NormFloat64()), rise), 0, 30)
		want, at := base*(ratio-1), 0.0
		for at < 29 && gridAt(grid, at) < want {
			at += 1.0 / 240
		}
		rows := k.record(at+2, func(h float64) float64 { return base + gridAt(grid, h) }, nil, nil)
		rows[0].fed = true
		events := runRows(rows, Opts{Kind: Bowl, FloorKnown: true, TargetRatio: ratio})
		called := false
		var last [2]Event
		for _, e := range events {
			h := e.At.Sub(starts).Hours()
			switch e.Kind {
			case EventTarget:
				called = true
				delay = append(delay, (h-at)*60)
			case EventForecast:
				for i, share := range []float64{0.6, 0.8} {
					if h <= share*at {
						last[i] = e
					}
				}
			case EventPeak:
				t.Errorf("seed %d: a bowl has no peak", seed)
			}
		}
		if !called {
			t.Errorf("seed %d: the target was not called", seed)
		}
		for i, e := range last {
			if e.At.IsZero() {
				continue
			}
			miss := math.Abs(e.PeakAt.Sub(starts).Hours()-at) * 60
			if i == 0 {
				err60 = append(err60, miss)
			} else {
				err80 = append(err80, miss)
			}
			offered++
			if lo, hi := e.Low.Sub(starts).Hours(), e.High.Sub(starts).Hours(); lo <= at && at <= hi {
				held++
			}
		}
	}
	t.Logf("delay %.1f %.1f %.1f min; forecast error at 60 %% %.0f/%.0f of %d, at 80 %% %.0f/%.0f of %d min; held %d of %d",
		percentile(delay, 10), percentile(delay, 50), percentile(delay, 90),
		percentile(err60, 50), percentile(err60, 90), len(err60), percentile(err80, 50), percentile(err80, 90), len(err80), held, offered)
	if d := percentile(delay, 50); math.Abs(d) > 4 {
		t.Errorf("median delay %.1f min, want at most 4", d)
	}
	if d := percentile(delay, 90); d > 12 {
		t.Errorf("delay at the 90th percentile %.1f min, want at most 12", d)
	}
	if share := float64(held) / float64(offered); share < 0.65 || share > 0.95 {
		t.Errorf("the interval held the target in %.0f %%, want about 80", 100*share)
	}
}
