package peak

import (
	"math"
	"math/rand/v2"
	"testing"
)

// fanAt draws a curve, stops at a share of the way to its peak and returns the
// fan, the moments in hours, and the true rises there.
func fanAt(f family, seed uint64, share float64) (fan Fan, hours, rises []float64, ok bool) {
	r := rand.New(rand.NewPCG(seed, 37))
	k := newScene(r)
	grid, tr := k.lay(f.make(r, math.Exp(math.Log(7)+0.25*r.NormFloat64()), uniform(r, 30, 80)), 0, 60)
	rows := k.record(share*tr.peak, func(h float64) float64 { return gridAt(grid, h) }, nil, nil)
	d := New(Opts{})
	d.Fed(rows[0].at)
	for _, s := range rows {
		d.Add(s.at, s.height, s.temp)
	}
	if fan, ok = d.Fan(); !ok {
		return
	}
	for _, p := range fan {
		h := p.At.Sub(starts).Hours()
		hours, rises = append(hours, h), append(rises, gridAt(grid, min(h, 59))-gridAt(grid, 0))
	}
	return fan, hours, rises, true
}

// TestFan: the band is in order, starts at the present height, and holds the
// curve about four times in five, before the top and behind it.
func TestFan(t *testing.T) {
	held, points, curves := 0, 0, 0
	for seed := range uint64(campaignSize(24)) {
		f := families[seed%uint64(len(families))]
		fan, hours, rises, ok := fanAt(f, seed, 0.4+0.1*float64(seed%6))
		if !ok {
			continue
		}
		curves++
		for i, p := range fan {
			if !(p.LowMM <= p.MidMM && p.MidMM <= p.HighMM) || i > 0 && hours[i] <= hours[i-1] {
				t.Fatalf("%s %d: point %d is out of order: %+v", f.name, seed, i, p)
			}
			if i > 0 {
				points++
				if p.LowMM <= rises[i] && rises[i] <= p.HighMM {
					held++
				}
			}
		}
		if math.Abs(fan[0].MidMM-rises[0]) > 6 {
			t.Errorf("%s %d: the fan starts at %.1f mm, the curve is at %.1f", f.name, seed, fan[0].MidMM, rises[0])
		}
	}
	share := 100 * float64(held) / float64(points)
	t.Logf("%d fans held the curve at %.0f %% of their points", curves, share)
	if share < 60 || share > 95 {
		t.Errorf("the fan holds the curve in %.0f %%, want about 80", share)
	}
}

func BenchmarkFan(b *testing.B) {
	rec := single(families[1], 22)
	d := New(Opts{})
	for _, s := range rec.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
		if s.at.Sub(starts).Hours() > 0.6*rec.feeds[0].peak {
			break
		}
	}
	d.Fan()
	b.ReportAllocs()
	for b.Loop() {
		d.Fan()
	}
}
