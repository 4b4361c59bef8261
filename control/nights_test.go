package control_test

import (
	"testing"
	"time"

	"leavend/control"
)

// ordinary is a kind of night that happens in any kitchen and is no fault.
type ordinary struct {
	name string
	make func(seed uint64, d draw) *bench
}

// hours is a room that differs by c °C between two hours after the start.
func between(from, to, c float64) func(time.Duration) float64 {
	return func(at time.Duration) float64 {
		if h := at.Hours(); h >= from && h < to {
			return c
		}
		return 0
	}
}

func ordinaryNights() []ordinary {
	plain := func(seed uint64, o control.Opts) (*bench, float64) {
		p, set := held(seed, "draughts")
		o.SetpointC, o.VesselCutoffC = set, 35
		return newBench(p, o), set
	}
	return []ordinary{
		{"a slot of 16 °C until 08:00, heat from 06:30", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{Location: time.UTC, Schedule: control.Schedule{{From: 22 * time.Hour, To: 8 * time.Hour, SetpointC: 16}}})
			rise := d.in(3, 6)
			b.p.room.night = d.in(2, 5)
			b.p.room.startHour = 20
			b.p.room.extra = func(at time.Duration) float64 { return rise * min(max(at.Hours()-10.5, 0), 1) }
			return b
		}},
		{"a jar cold from the fridge, the mat off", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{})
			b.p.room.mean = d.in(18, 24)
			b.p.place(b.p.room.mean)
			b.p.tOut, b.p.tCore, b.p.tProbe = 4, 4, 4
			_ = b.m.SetMode(b.at, control.Off)
			return b
		}},
		{"a jar cold from the fridge, the mat holds", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{})
			b.p.tOut, b.p.tCore, b.p.tProbe = 4, 4, 4
			return b
		}},
		{"a window open for 40 minutes", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{})
			from := d.in(2, 8)
			b.p.room.extra = between(from, from+2.0/3, -d.in(6, 12))
			b.each = func(b *bench, h float64) {
				b.p.draft = 1
				if h >= from && h < from+2.0/3 {
					b.p.draft = 1.5
				}
			}
			return b
		}},
		{"a weak mat and a cold night", func(seed uint64, d draw) *bench {
			b, set := plain(seed, control.Opts{})
			// What is wanted lies 0 to 4 K above what full power reaches by morning.
			b.p.room.mean = set - b.p.reachC() - d.in(0, 4)
			b.p.room.night = d.in(2, 4)
			b.p.place(b.p.room.mean + d.in(0, 4))
			return b
		}},
		{"moved to a colder sill", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{})
			b.p.room.extra = between(d.in(3, 7), 99, -d.in(3, 6))
			return b
		}},
		{"8 W of morning sun", func(seed uint64, d draw) *bench {
			b, _ := plain(seed, control.Opts{})
			from, ramp, last := d.in(7, 10), d.in(0.2, 1), d.in(1.5, 3)
			b.each = func(b *bench, h float64) {
				b.p.sunW = 8 * min(max((h-from)/ramp, 0), 1)
				if h > from+last {
					b.p.sunW = 0
				}
			}
			return b
		}},
	}
}

// TestOrdinaryNights: what happens in any kitchen latches nothing and hardly
// ever ends the heat.
func TestOrdinaryNights(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine: nothing to race")
	}
	n := uint64(seeds(2, 100))
	latches, rests, nights := 0, 0, 0
	for _, k := range ordinaryNights() {
		latched, rested := map[control.FaultKind]int{}, 0
		all := make([]*bench, n)
		each(n, func(seed uint64) {
			all[seed] = k.make(seed, newDraw(seed, 44))
			all[seed].run(14 * time.Hour)
		})
		for seed, b := range all {
			nights++
			if f := b.latched(); f != "" && b.maxC < b.o.VesselCutoffC {
				latched[f]++
				t.Errorf("%s, seed %d: %s set %.1f latched %s after %.2f h, warmest %.1f", k.name, seed, b.p, b.o.SetpointC, f, b.faults[f].Hours(), b.maxC)
				latches++
			}
			if _, told := b.faults[control.FaultNoGain]; told {
				rested++
				rests++
			}
		}
		t.Logf("%-46s %3d nights: latched %v, rested %d", k.name, n, latched, rested)
	}
	t.Logf("together %d nights: %d latched, %d rested", nights, latches, rests)
	if float64(rests) > 0.03*float64(nights) {
		t.Errorf("%d of %d ordinary nights ended the heat", rests, nights)
	}
}
