package control_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// plants is how many random plants the comparison runs over. The table in the
// documentation comes from
//
//	go test ./control -run TestPlants -v -plants 200
var plants = flag.Int("plants", 3, "how many random plants to control")

// trial is one plant, its setpoint and how its probe errs.
type trial struct {
	seed uint64
	o    sim.PlantOpts
	set  float64
}

// randomTrial draws a plant over the whole range: a room of 12 to 28 °C that
// moves, a mat of 8 to 40 W, 0.2 to 3 kg, dead times of 1 to 25 minutes, doors.
// The setpoint is one that 85 % of full power holds in the coldest hour, and
// that an idle mat does not pass in the warmest.
func randomTrial(seed uint64) trial {
	for try := uint64(0); ; try++ {
		r := rand.New(rand.NewPCG(seed, try))
		in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
		kg := math.Exp(in(math.Log(0.2), math.Log(3)))
		o := sim.PlantOpts{
			Seed: seed<<8 + try,
			Room: sim.RoomOpts{
				MeanC: in(13, 27), SwingC: in(0, 1.5), StartHour: in(0, 24), NightC: in(0, 3) * float64(r.IntN(2)),
				DoorC: in(1, 5), DoorsADay: in(0, 10), WanderC: in(0, 0.4),
			},
			MatW: in(8, 40), MatJK: in(200, 500), SlabJK: math.Exp(in(math.Log(50), math.Log(1500))), CoupleWK: in(0.8, 3),
			ContentsKg: kg, ProbeDepth: in(0, 0.6), ProbeLag: time.Duration(in(10, 180)) * time.Second,
		}
		p := sim.NewPlant(o)
		dead, _, ok := p.DeadTime()
		if !ok || dead < time.Minute || dead > 25*time.Minute {
			continue
		}
		cold := o.Room.MeanC - o.Room.SwingC - o.Room.NightC - 2*o.Room.WanderC
		warm := o.Room.MeanC + o.Room.SwingC + 2*o.Room.WanderC
		if cold < 12 || warm > 28 {
			continue
		}
		lo, hi := math.Max(warm+1, 20), math.Min(p.SteadyC(cold, 0.85), 30)
		if hi < lo {
			continue
		}
		return trial{seed: seed, o: o, set: math.Round(in(lo, hi)*2) / 2}
	}
}

// controller is anything that decides by readings.
type controller interface {
	reading(at time.Time, c float64)
	heats(at time.Time) bool
}

// outcome is how one controller did on one plant.
type outcome struct {
	arrived  bool
	arrival  time.Duration
	ratio    float64 // of the arrival to that at full power
	within   float64 // share of the time after it within half a degree
	over     float64 // greatest excess after it, °C
	switches float64 // the most within an hour
}

const (
	sampleEvery = 10 * time.Second
	night       = 24 * time.Hour
)

// drive runs a controller over a day and measures the true vessel.
func (tr trial) drive(k controller) outcome {
	p := sim.NewPlant(tr.o)
	r := rand.New(rand.NewPCG(tr.seed, 7))
	at := time.Unix(0, 0)
	var res outcome
	var in, after int
	var ons []time.Duration
	var begin time.Duration // arrival counts from the first on, for every contender
	was := false
	for p.Elapsed() < night || res.arrived && p.Elapsed() < res.arrival+night/2 {
		c := p.ProbeC(sensor.AtVessel) + 0.03*r.NormFloat64()
		k.reading(at, math.Round(c*16)/16)
		on := k.heats(at)
		if on && !was {
			if ons = append(ons, p.Elapsed()); len(ons) == 1 {
				begin = p.Elapsed()
			}
		}
		was = on
		p.Step(sampleEvery, on)
		at = at.Add(sampleEvery)
		v := p.VesselC()
		if !res.arrived && v >= tr.set-0.5 {
			res.arrived, res.arrival = true, p.Elapsed()-begin
		}
		if res.arrived {
			after++
			if math.Abs(v-tr.set) <= 0.5 {
				in++
			}
			res.over = math.Max(res.over, v-tr.set)
		}
		if p.Elapsed() > 72*time.Hour {
			break
		}
	}
	if after > 0 {
		res.within = float64(in) / float64(after)
	}
	for i := range ons {
		j, _ := slices.BinarySearch(ons, ons[i]+time.Hour)
		res.switches = math.Max(res.switches, float64(j-i))
	}
	if full := tr.fullPower(); res.arrived {
		res.ratio = res.arrival.Seconds() / full.Seconds()
	}
	return res
}

// fullPower is when the vessel would arrive with the mat always on.
func (tr trial) fullPower() time.Duration {
	p := sim.NewPlant(tr.o)
	for p.VesselC() < tr.set-0.5 && p.Elapsed() < 48*time.Hour {
		p.Step(sampleEvery, true)
	}
	return p.Elapsed()
}

// matControl is the package under test, guard and all.
type matControl struct {
	m   *control.Mat
	out lamp
}

func newMatControl(set float64, o control.Opts) *matControl {
	k := &matControl{}
	o.SetpointC = set
	m, err := control.New(&k.out, o)
	if err != nil {
		panic(err)
	}
	k.m = m
	_ = m.SetMode(time.Unix(0, 0), control.Hold)
	return k
}

func (k *matControl) reading(at time.Time, c float64) {
	k.m.Temperature(at, "crumb", control.AtVessel, c)
}
func (k *matControl) heats(at time.Time) bool { k.m.Tick(at); return k.out.on }

// pi is a PI controller whose output is a share of a ten-minute window, with
// anti-windup. It knows each plant's true dead time and time constant and is
// tuned to them by the SIMC rules (Skogestad, 2003; tc = dead time), which no
// real kitchen could know: the comparison favours it.
type pi struct {
	set, kc, ti float64
	window      time.Duration
	integral    float64
	last        time.Time
	begin       time.Time
	share       float64
	c           float64
}

func newPI(tr trial) *pi {
	p := sim.NewPlant(tr.o)
	dead, lag, _ := p.DeadTime()
	gain := p.SteadyC(20, 1) - 20
	k := &pi{set: tr.set, window: 10 * time.Minute}
	theta := dead.Seconds() + k.window.Seconds()/2 // the window itself adds half of its length
	k.kc = lag.Seconds() / (gain * 2 * theta)
	k.ti = math.Min(lag.Seconds(), 8*theta)
	return k
}

func (k *pi) reading(at time.Time, c float64) {
	e := k.set - c
	if !k.last.IsZero() {
		u := k.kc * (e + k.integral/k.ti)
		if u > 0 && u < 1 || u >= 1 && e < 0 || u <= 0 && e > 0 {
			k.integral += e * at.Sub(k.last).Seconds()
		}
	}
	k.last, k.c = at, c
}

func (k *pi) heats(at time.Time) bool {
	if k.begin.IsZero() || at.Sub(k.begin) >= k.window {
		k.begin = at
		e := k.set - k.c
		k.share = math.Min(math.Max(k.kc*(e+k.integral/k.ti), 0), 1)
	}
	return at.Sub(k.begin).Seconds() < k.share*k.window.Seconds()
}

// quantile returns the q-quantile of values.
func quantile(v []float64, q float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[min(int(q*float64(len(s))), len(s)-1)]
}

// TestPlants compares plain hysteresis, a tuned PI and this package.
func TestPlants(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine: nothing to race")
	}
	contenders := []struct {
		name string
		make func(tr trial) controller
	}{
		{"plain hysteresis ±0.5", func(tr trial) controller {
			return newMatControl(tr.set, control.Opts{Plain: true, HysteresisC: 0.5})
		}},
		{"PI, tuned to each plant", func(tr trial) controller { return newPI(tr) }},
		{"leavend", func(tr trial) controller { return newMatControl(tr.set, control.Opts{}) }},
	}
	t.Logf("%d plants, a day each                within ±0.5 °C         overshoot °C    arrival ratio   switches", *plants)
	t.Logf("                              p5     p10    median    median   p95     median   p95    most/h")
	for _, k := range contenders {
		var within, over, ratio []float64
		most := 0.0
		for seed := range uint64(*plants) {
			tr := randomTrial(seed)
			o := tr.drive(k.make(tr))
			if !o.arrived {
				o.ratio = 99
			}
			within, over, ratio, most = append(within, o.within), append(over, o.over), append(ratio, o.ratio), math.Max(most, o.switches)
			if testing.Verbose() && k.name == "leavend" && (o.within < 0.95 || o.over > 0.7 || o.ratio > 1.15 && k.name == "leavend") {
				t.Log(tr.describe(o))
			}
		}
		t.Logf("%-26s %5.1f%% %5.1f%% %6.1f%%    %5.2f  %5.2f     %5.2f  %5.2f    %3.0f", k.name,
			100*quantile(within, 0.05), 100*quantile(within, 0.1), 100*quantile(within, 0.5), quantile(over, 0.5), quantile(over, 0.95),
			quantile(ratio, 0.5), quantile(ratio, 0.95), most)
		if p5, p95 := quantile(within, 0.05), quantile(over, 0.95); k.name == "leavend" && (p5 < 0.95 || p95 > 0.85 || quantile(ratio, 0.5) > 1.3 || most > 6) {
			t.Errorf("within at the 5th percentile %.1f %%, want 95; overshoot at the 95th %.2f °C, want 0.85; arrival ratio %.2f, want 1.3; %.0f switches an hour, want 6", 100*p5, p95, quantile(ratio, 0.5), most)
		}
	}
}

// describe tells of one plant that was missed.
func (tr trial) describe(o outcome) string {
	p := sim.NewPlant(tr.o)
	dead, lag, _ := p.DeadTime()
	return fmt.Sprintf("missed: seed %d %.1f W %.2f kg room %.1f set %.1f reach %.1f dead %s lag %s: within %.1f%% over %.2f ratio %.2f (%s) switches %.0f",
		tr.seed, tr.o.MatW, tr.o.ContentsKg, tr.o.Room.MeanC, tr.set, p.SteadyC(tr.o.Room.MeanC, 1), dead.Round(time.Second), lag.Round(time.Minute),
		100*o.within, o.over, o.ratio, o.arrival.Round(time.Minute), o.switches)
}
