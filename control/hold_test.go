package control_test

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"leavend/control"
)

// long asks for the full number of plants: LEAVEND_LONG=1 go test ./control
func long() bool { return os.Getenv("LEAVEND_LONG") != "" }

// seeds is how many plants a campaign runs over.
func seeds(short, full int) int {
	if long() {
		return full
	}
	return short
}

// each runs f for every seed below n on all cores.
func each(n uint64, f func(seed uint64)) {
	var next atomic.Uint64
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for seed := next.Add(1) - 1; seed < n; seed = next.Add(1) - 1 {
				f(seed)
			}
		})
	}
	all.Wait()
}

// held is a plant with a setpoint it can hold and a room of a kind.
func held(seed uint64, room string) (p *lumped, set float64) {
	for try := uint64(0); ; try++ {
		d := newDraw(seed, 100+try)
		p = newLumped(d, seed)
		switch room {
		case "calm":
			p.room.swing, p.room.breath, p.room.breathMin = d.in(0, 1), 0.02, 30
		case "draughts":
			p.room.swing, p.room.night = d.in(0, 0.7), d.in(0, 1.2)
			p.room.doorsADay, p.room.doorC = d.in(2, 10), d.in(1, 4)
			breathes(p, d)
		}
		cold, warm := p.room.mean-p.room.swing-p.room.night, p.room.mean+p.room.swing
		lo, hi := math.Max(warm+1.5, 21), math.Min(cold+0.85*p.reachC(), 29)
		if hi < lo || cold < 11 {
			continue
		}
		p.place(p.room.mean)
		return p, math.Round(d.in(lo, hi)*2) / 2
	}
}

// breathes gives a room the wander of any kitchen, 0.1 to 0.25 °C rms, or a
// radiator's rhythm of the same size.
func breathes(p *lumped, d draw) {
	rms := d.in(0.1, 0.25)
	if d.IntN(2) == 0 {
		p.room.breath, p.room.breathMin = rms, d.logIn(5, 60)
		return
	}
	p.room.beat, p.room.beatMin = rms*math.Sqrt(3), d.in(20, 60)
}

// drafty lets air move over the vessel now and then.
func drafty(b *bench, d draw) {
	var until float64
	b.each = func(b *bench, h float64) {
		if h >= until {
			b.p.draft = 1
		}
		if d.Float64() < 6.0/1440 {
			b.p.draft, until = d.in(1.3, 2.5), h+d.in(5, 20)/60
		}
	}
}

// heldFor is how a plant was held.
type heldFor struct {
	within, over, switches float64
	arrived                bool
}

func (b *bench) hold(set float64, d time.Duration) (r heldFor) {
	var in, after float64
	for b.p.at < d {
		b.run(lumpStep)
		v := b.p.vesselC()
		r.arrived = r.arrived || v >= set-0.5
		if !r.arrived {
			continue
		}
		after++
		if math.Abs(v-set) <= 0.5 {
			in++
		}
		r.over = math.Max(r.over, v-set)
	}
	r.within = in / max(after, 1)
	for i := range b.ons {
		j, _ := slices.BinarySearch(b.ons, b.ons[i]+time.Hour)
		r.switches = math.Max(r.switches, float64(j-i))
	}
	return r
}

// lumpedPI tunes the PI of plants_test.go to a lumped plant, from the plant's
// own answer to a step at full power.
func lumpedPI(seed uint64, room string, set float64, window time.Duration) *pi {
	q, _ := held(seed, room)
	q.room = air{mean: 20, r: q.room.r}
	q.place(20)
	var t []float64
	for range 48 * 360 {
		q.step(true)
		t = append(t, q.tOut-20)
	}
	final := t[len(t)-1]
	at := func(share float64) float64 {
		i, _ := slices.BinarySearch(t, share*final)
		return float64(i) * lumpStep.Seconds()
	}
	// Two points of the step response give dead time and lag (Smith, 1972).
	lag := 1.5 * (at(0.632) - at(0.283))
	dead := math.Max(at(0.632)-lag, 30) + q.lag
	theta := dead + window.Seconds()/2
	return &pi{set: set, window: window, kc: lag / (final * 2 * theta), ti: math.Min(lag, 8*theta)}
}

// What TestHold demands of the median plant, and with LEAVEND_LONG of the 5th
// and 90th percentile of a hundred; RESULTS.md has what was measured.
const leastMedian = 0.93

var (
	leastHeld = map[string]float64{"calm": 0.93, "draughts": 0.80, "cold flour": 0.90}
	mostOver  = map[string]float64{"calm": 0.70, "draughts": 0.95, "cold flour": 0.65}
)

// TestHold compares hysteresis, a PI tuned to each plant and this package on
// plants of one to three nodes, in calm rooms, in rooms with draughts, and
// from a start with cold flour below the probe.
func TestHold(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine: nothing to race")
	}
	contenders := []struct {
		name string
		make func(seed uint64, room string, set float64) (controller, control.Opts)
	}{
		{"hysteresis ±0.3", func(_ uint64, _ string, set float64) (controller, control.Opts) {
			return nil, control.Opts{SetpointC: set, Plain: true, HysteresisC: 0.3}
		}},
		{"PI tuned to each plant", func(seed uint64, room string, set float64) (controller, control.Opts) {
			return lumpedPI(seed, room, set, 10*time.Minute), control.Opts{SetpointC: set}
		}},
		// What draughts and a small jar leave to any controller: no relay lasts so.
		{"the same, 60 switches", func(seed uint64, room string, set float64) (controller, control.Opts) {
			return lumpedPI(seed, room, set, time.Minute), control.Opts{SetpointC: set}
		}},
		{"leavend", func(_ uint64, _ string, set float64) (controller, control.Opts) {
			return nil, control.Opts{SetpointC: set}
		}},
		{"leavend, 3 switches", func(_ uint64, _ string, set float64) (controller, control.Opts) {
			return nil, control.Opts{SetpointC: set, OnSwitchesPerHour: 3}
		}},
		{"leavend with a budget", func(seed uint64, room string, set float64) (controller, control.Opts) {
			p, _ := held(seed, room)
			return nil, control.Opts{SetpointC: set, MatW: p.w, VesselKg: p.kg}
		}},
	}
	n := uint64(seeds(3, 100))
	t.Logf("%-10s %-24s  within ±0.5 °C: p5    p10   median   overshoot p50   p90   most switches an hour", "room", "")
	for _, room := range []string{"calm", "draughts", "cold flour"} {
		for _, k := range contenders {
			within, over, switches := make([]float64, n), make([]float64, n), make([]float64, n)
			each(n, func(seed uint64) {
				p, set := held(seed, map[bool]string{true: "calm", false: room}[room == "cold flour"])
				rule, o := k.make(seed, map[bool]string{true: "calm", false: room}[room == "cold flour"], set)
				b := newBench(p, o)
				b.rule = rule
				if room == "draughts" {
					drafty(b, newDraw(seed, 55))
				}
				if room == "cold flour" && p.nodes == 3 {
					p.tCore -= 10
				} else if room == "cold flour" {
					p.tMat -= 6
				}
				r := b.hold(set, 12*time.Hour)
				within[seed], over[seed], switches[seed] = r.within, r.over, r.switches
			})
			t.Logf("%-10s %-24s %19.1f %6.1f %6.1f %16.2f %6.2f %10.0f", room, k.name, 100*quantile(within, 0.05), 100*quantile(within, 0.1), 100*quantile(within, 0.5),
				quantile(over, 0.5), quantile(over, 0.9), slices.Max(switches))
			if k.name != "leavend" {
				continue
			}
			if m := quantile(within, 0.5); m < leastMedian {
				t.Errorf("%s: the median plant is held for %.1f %% of the time, want %.0f", room, 100*m, 100*leastMedian)
			}
			if slices.Max(switches) > 6 {
				t.Errorf("%s: %.0f switches an hour", room, slices.Max(switches))
			}
			if p5, o := quantile(within, 0.05), quantile(over, 0.9); long() && (p5 < leastHeld[room] || o > mostOver[room]) {
				t.Errorf("%s: within at the 5th percentile %.1f %%, want %.0f; overshoot at the 90th %.2f °C, want %.1f", room, 100*p5, 100*leastHeld[room], o, mostOver[room])
			}
		}
	}
}

func (p *lumped) String() string {
	return fmt.Sprintf("%d nodes %.1f W %.2f kg dead %s room %.1f reach %.1f K", p.nodes, p.w, p.kg, p.dead.Round(time.Second), p.room.mean, p.reachC())
}
