package control_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// welded is how a switch that welds in the middle of a hold was found out.
type welded struct {
	falsely bool // called stuck in the day before, when it was not
	found   bool // within half a day
	after   time.Duration
	overC   float64 // how far the vessel was above its setpoint by then
	how     control.FaultKind
}

// weld holds a plant for a day, then welds its switch and waits.
func (tr trial) weld() (w welded) {
	k := newMatControl(tr.set, control.Opts{})
	p := sim.NewPlant(tr.o)
	r := rand.New(rand.NewPCG(tr.seed, 9))
	for at := time.Unix(0, 0); p.Elapsed() < night+night/2; at = at.Add(sampleEvery) {
		k.reading(at, math.Round((p.ProbeC(sensor.AtVessel)+0.03*r.NormFloat64())*16)/16)
		on := k.heats(at)
		if p.Elapsed() == night {
			p.SetMat(sim.MatStuckOn)
		}
		for _, f := range k.m.State().Faults {
			if !f.Latched && f.Kind != control.FaultLingers {
				continue
			}
			if p.Elapsed() <= night {
				w.falsely = true
				return w
			}
			w.found, w.how, w.after, w.overC = true, f.Kind, p.Elapsed()-night, p.VesselC()-tr.set
			return w
		}
		p.Step(sampleEvery, on)
	}
	return w
}

// TestWeldedSwitch holds random plants for a day, in which nothing may be
// latched, and then welds the switch: how soon is it said?
func TestWeldedSwitch(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine: nothing to race")
	}
	var after, over []float64
	how := map[control.FaultKind]int{}
	for seed := range uint64(*plants) {
		tr := randomTrial(seed)
		w := tr.weld()
		switch {
		case w.falsely:
			t.Errorf("seed %d: a fault was latched in a day without one", seed)
		case !w.found:
			p := sim.NewPlant(tr.o)
			t.Logf("not found within 12 h: seed %d, set %.1f °C, full power would reach %.1f °C", seed, tr.set, p.SteadyC(tr.o.Room.MeanC, 1))
		default:
			after, over = append(after, w.after.Minutes()), append(over, w.overC)
			how[w.how]++
		}
	}
	if len(after) == 0 {
		t.Fatal("no welded switch was found")
	}
	t.Logf("%d plants: %d welded switches found, after %.0f min (median), %.0f (p95), %.0f (worst); vessel then %.1f °C too warm (median), %.1f (worst); by %v",
		*plants, len(after), quantile(after, 0.5), quantile(after, 0.95), slices.Max(after), quantile(over, 0.5), slices.Max(over), how)
}
