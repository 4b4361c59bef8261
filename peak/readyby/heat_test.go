package readyby

import (
	"math"
	"testing"
	"time"

	"leavend/sensor"
	"leavend/sensor/sim"
)

// After a day on a mat the vessel's course for the next three hours is known
// to a degree and a half, warming and cooling; a hot board below it is the worst.
func TestHeatForetells(t *testing.T) {
	for seed := range uint64(6) {
		p := sim.NewPlant(sim.PlantOpts{Seed: seed, MatW: 15 + 4*float64(seed), SlabJK: 100 + 200*float64(seed),
			Room: sim.RoomOpts{MeanC: 18 + float64(seed)/2, SwingC: 1, WanderC: 0.2}})
		var h Heat
		now := noon
		on := false
		run := func(d time.Duration, setC float64) {
			for end := now.Add(d); now.Before(end); now = now.Add(time.Minute) {
				c := p.ProbeC(sensor.AtVessel)
				on = c < setC-0.2 || on && c < setC+0.2
				h.Observe(now, c, on)
				p.Step(time.Minute, on)
			}
		}
		run(12*time.Hour, 25)
		run(4*time.Hour, 22)
		run(8*time.Hour, 24)
		for _, setC := range []float64{27, 22} {
			course := h.Course(p.ProbeC(sensor.AtVessel), setC, 3)
			start := now
			for range 3 {
				run(time.Hour, setC)
				if want, got := p.ProbeC(sensor.AtVessel), course(now.Sub(start)); math.Abs(got-want) > 1.5 {
					t.Errorf("plant %d, %v after asking for %g °C: %.1f °C, foretold %.1f", seed, now.Sub(start), setC, want, got)
				}
			}
			run(2*time.Hour, 24)
		}
	}
}

func TestHeatKnowsNothing(t *testing.T) {
	var h Heat
	c := h.Course(24, 27, 2)
	if got := c(2 * time.Hour); got < 26 || got > 27 {
		t.Errorf("with nothing learnt, two hours after asking for 27 °C: %.1f", got)
	}
	h.Observe(noon, math.NaN(), true)
	h.Observe(noon, 24, true)
	h.Observe(noon.Add(-time.Hour), 80, true)
	if idle, full := h.RangeC(); math.IsNaN(idle) || idle > full {
		t.Errorf("range %v to %v", idle, full)
	}
}
