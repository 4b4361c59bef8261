package control_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/control"
)

// openPlant is a mat that lies open under a vessel, at a corner of the ranges
// that newLumped draws from: how easily heat passes (in), and how little of it
// mat and vessel lose (mat, out), with the dead time and the mat's heat mass.
func openPlant(nodes int, w, kg, mat, in, out, cMat float64, dead time.Duration) *lumped {
	p := newLumped(newDraw(1, 100), 1)
	size := math.Pow(kg, 2.0/3)
	c := 2900*kg + 350*size
	p.nodes, p.w, p.kg, p.dead, p.lag = nodes, w, kg, dead, 30
	p.gMat, p.gIn, p.gOut, p.cMat = w/18*mat, in*size, 0.6*size*out, cMat
	p.cOut, p.cCore, p.gCore = c, 0, 0
	if nodes == 3 {
		p.cOut, p.cCore, p.gCore = 0.5*c, 0.5*c, kg
	}
	p.room = air{mean: 22, r: rand.New(rand.NewPCG(1, 78))}
	p.place(p.room.mean)
	p.queue, p.next = make([]float64, max(int(dead/lumpStep), 1)), 0
	return p
}

// worstC is how warm the vessel gets in 24 hours under a probe that asks for
// all the heat there is and seems to answer to it.
func worstC(p *lumped, o control.Opts, restarts time.Duration) (c float64) {
	f := control.NewForced(o)
	for at := time.Duration(0); at < 24*time.Hour; at += lumpStep {
		if restarts > 0 && at%restarts == 0 && at > 0 {
			var err error
			if f, err = f.Restart(o); err != nil {
				panic(err)
			}
		}
		p.step(f.Heats(at))
		c = math.Max(c, p.vesselC())
	}
	return c
}

// TestNoLiePasses35 searches the corners of all open plants for the warmest
// vessel that any lie of the probe can make in a kitchen of 22 °C: with the
// mat's power and load known it is never above 35 °C. The limit up to which
// the greatest duty alone does it is held to the same search.
func TestNoLiePasses35(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine: nothing to race")
	}
	const least, most = 0.8, 1.3
	type corner struct {
		nodes            int
		mat, in, out, cM float64
		dead             time.Duration
	}
	corners := []corner{{2, least, 2.2, 0.7, 300, 30 * time.Second}, {3, least, 2.2, 0.7, 300, 30 * time.Second}}
	if long() {
		corners = nil
		for _, nodes := range []int{2, 3} {
			for _, mat := range []float64{least, most} {
				for _, in := range []float64{0.8, 2.2} {
					for _, out := range []float64{0.7, 1.5} {
						for _, cM := range []float64{300, 1200} {
							for _, dead := range []time.Duration{30 * time.Second, 10 * time.Minute} {
								corners = append(corners, corner{nodes, mat, in, out, cM, dead})
							}
						}
					}
				}
			}
		}
	}
	weights, powers := []float64{0.25, 1, 3}, []float64{8, 20, 40}
	if long() {
		weights, powers = []float64{0.25, 0.35, 0.5, 0.7, 1, 1.5, 2, 3}, []float64{4, 8, 12, 16, 20, 30, 40}
	}
	worst, bare := math.Inf(-1), math.Inf(-1)
	for _, kg := range weights {
		for _, w := range powers {
			o := control.Opts{SetpointC: 26, MatW: w, VesselKg: kg}
			p := o.Promise()
			free := control.Opts{SetpointC: 26}
			all := make([][2]float64, len(corners))
			each(uint64(len(corners)), func(i uint64) {
				k := corners[i]
				plant := func() *lumped { return openPlant(k.nodes, w, kg, k.mat, k.in, k.out, k.cM, k.dead) }
				all[i] = [2]float64{worstC(plant(), o, 0), worstC(plant(), free, 0)}
			})
			var here, without float64
			for _, v := range all {
				here, without = math.Max(here, v[0]), math.Max(without, v[1])
			}
			worst, bare = math.Max(worst, here), math.Max(bare, without)
			t.Logf("%5.2f kg %4.0f W (%5.1f W/kg): %.1f °C with the budget of %.0f %%, %.1f without; without it is kept up to %.1f W", kg, w, w/kg, here, 100*p.Share, without, p.LimitW)
			if here > 35 {
				t.Errorf("%.2f kg on %.0f W: a lie brings it to %.1f °C", kg, w, here)
			}
			if p.Kept && without > 35 {
				t.Errorf("%.2f kg on %.0f W: promised without a budget, and a lie brings it to %.1f °C", kg, w, without)
			}
		}
	}
	o := control.Opts{SetpointC: 26, MatW: 40, VesselKg: 0.25}
	if c := worstC(openPlant(2, 40, 0.25, least, 2.2, 0.7, 300, 30*time.Second), o, 25*time.Minute); c > 35 {
		t.Errorf("with a restart every 25 minutes a lie brings it to %.1f °C", c)
	}
	t.Logf("the warmest of all: %.2f °C; without a budget %.2f °C", worst, bare)
}
