package simtest

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/sensor/sim"
)

// TestEnergyIsConserved audits every joule over a day of switching, feeding,
// a trip to the fridge and a mat that fails.
func TestEnergyIsConserved(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for range 20 {
		p := RandomPlant(rng)
		start := p.Stored()
		for k := range 2880 {
			switch k {
			case 500:
				p.Refill(p.Opts().ContentsKg*1.3, 24)
			case 1000:
				p.TakeAway(4)
			case 1500:
				p.PutBack()
			case 2000:
				p.SetMat(sim.MatStuckOn)
			case 2400:
				p.SetMat(sim.MatHalf)
			}
			p.Step(30*time.Second, k/40%2 == 0)
		}
		in := start + p.HeatIn() + p.HeatMoved()
		out := p.Stored() + p.HeatLost()
		if math.Abs(in-out) > 1e-7*math.Abs(in) {
			t.Errorf("%v: %.3f J went in and %.3f J are accounted for", p, in, out)
		}
	}
}

// TestRandomPlantsSpanTheirRange checks 200 draws against the range that the
// package promises.
func TestRandomPlantsSpanTheirRange(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	type span struct{ lo, hi float64 }
	seen := map[string]*span{}
	note := func(name string, v, lo, hi float64) {
		if v < lo || v > hi {
			t.Errorf("%s is %.2f, outside %.2f to %.2f", name, v, lo, hi)
		}
		s := seen[name]
		if s == nil {
			s = &span{v, v}
			seen[name] = s
		}
		s.lo, s.hi = math.Min(s.lo, v), math.Max(s.hi, v)
	}
	for range 200 {
		p := RandomPlant(rng)
		dead, _, ok := p.DeadTime()
		if !ok {
			t.Fatalf("%v has no dead time", p)
		}
		low, high := p.Opts().Room.Range()
		note("mat W", p.Opts().MatW, 8, 40)
		note("contents kg", p.Opts().ContentsKg, 0.2, 3)
		note("dead time min", dead.Minutes(), 0.5, 26)
		note("room °C", low, 12, 28)
		note("room °C", high, 12, 28)
		note("mat over room K", p.Opts().MatW/p.Opts().MatLossWK, 14, 24)
	}
	if s := seen["dead time min"]; s.lo > 2.5 || s.hi < 22 {
		t.Errorf("dead times span only %.1f to %.1f min", s.lo, s.hi)
	}
	if s := seen["room °C"]; s.lo > 13.5 || s.hi < 26.5 {
		t.Errorf("rooms span only %.1f to %.1f °C", s.lo, s.hi)
	}
}
