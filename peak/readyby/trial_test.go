package readyby

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"leavend/control"
	"leavend/peak"
	"leavend/peak/timetopeak"
	"leavend/sensor"
	"leavend/sensor/sim"
	"leavend/sensor/sim/simtest"
)

// trial is one starter with a record of six feeds, on a mat in a kitchen drawn
// at random, about to get its next feed.
type trial struct {
	opts   sim.Opts
	learnt []timetopeak.Past
	past   []peak.Feed
	feed   timetopeak.Feed
	fedAt  time.Duration // after the kitchen's start
	target float64       // of dough: the rise ratio that is waited for; 0 is a starter and its peak
}

const trialFeeds = 6

// newTrial draws a trial: the starter and its record from simtest.History,
// plant and room from simtest.RandomPlant. It is false for a plant that can
// hardly move the time: a room warmer than all that is wanted, or a mat too
// weak for its room.
func newTrial(seed uint64) (trial, bool) {
	t := trial{fedAt: 72 * time.Hour}
	rng := rand.New(rand.NewPCG(seed, 99))
	drawn := simtest.RandomPlant(rng)
	plant := drawn.Opts()
	if drawn.SteadyC(plant.Room.MeanC, 0) > 26.5 || drawn.SteadyC(plant.Room.MeanC, 1) < 23.5 {
		return t, false
	}
	r := simtest.History(seed, trialFeeds)
	ratio, fill := r.Opts.Feeds[0].Ratio, r.Opts.Feeds[0].FillML
	t.feed = timetopeak.Mixed(ratio.Starter, ratio.Flour, ratio.Water)
	t.feed.Rested = 24 * time.Hour
	// Three daily feeds bring the starter into its condition; the fourth is
	// the one that counts. Each differs from the others as in the history.
	var feeds []sim.Feed
	for k := range 4 {
		feeds = append(feeds, sim.Feed{At: time.Duration(k) * 24 * time.Hour, Ratio: ratio, FillML: fill * (0.94 + 0.12*rng.Float64()),
			WaterC: 20 + 7*rng.Float64(), PaceBy: 1 + 0.04*rng.NormFloat64(), HoldBy: 1 + 0.03*rng.NormFloat64()})
	}
	t.opts = sim.Opts{Seed: seed, Room: plant.Room, Before: 52 * time.Hour, Vessels: []sim.VesselOpts{{
		Name: "jar", Vessel: r.Opts.Vessel, Starter: r.Opts.Starter, Ranger: r.Opts.Ranger, Plant: plant, Feeds: feeds,
	}}}
	t.record(r)
	return t, true
}

// record takes what a daemon would know of a history: the detector's records,
// and the temperatures.
func (t *trial) record(r *sim.Recording) {
	d := peak.New(peak.Opts{FloorKnown: true})
	heights := r.Heights()
	var rows []int
	for i, row := range r.Rows {
		if row.Fed {
			d.Fed(row.At)
			rows = append(rows, i)
		}
		d.Add(row.At, heights[i], row.TempC)
	}
	d.Fed(r.Rows[len(r.Rows)-1].At.Add(time.Minute))
	t.past = slices.Clone(d.History())
	for _, f := range t.past {
		for k, first := range rows {
			if r.Rows[first].At.Sub(f.At).Abs() > time.Minute {
				continue
			}
			var temps []float64
			for i := first; i < len(r.Rows) && (k+1 == len(rows) || i < rows[k+1]); i += 10 {
				temps = append(temps, r.Rows[i].TempC)
			}
			t.learnt = append(t.learnt, timetopeak.Past{Feed: t.feed, Course: timetopeak.Points(10*r.Opts.Every, temps), Top: f.PeakAt.Sub(f.At)})
		}
	}
}

func (t *trial) model() *timetopeak.Model {
	m := timetopeak.New()
	for _, p := range t.learnt {
		m.Learn(p)
	}
	return m
}

// policy is who chooses the setpoint. begin is asked once, three minutes after
// the feed, and answers 0 for no mat; then, if it is not nil, every five minutes.
type policy struct {
	begin func(s *Controller, now time.Time) float64
	then  func(s *Controller, v Observation, now time.Time) float64
}

// hold is the policy of one setpoint whatever comes.
func hold(setC float64) policy {
	return policy{begin: func(*Controller, time.Time) float64 { return setC }}
}

const (
	trialStep = 20 * time.Second
	usualC    = 25
)

// play lets the kitchen run, with the real thermostat and detector, until the
// top is over. It counts what was warmed until the goal.
func (t *trial) play(p policy, goal time.Duration) run {
	start := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)
	now := start
	k, err := sim.New(func() time.Time { return now }, t.opts)
	must(err)
	out, err := k.Mat("jar")
	must(err)
	probe, err := k.Probe("jar", sensor.AtVessel)
	must(err)
	ranger, err := k.Ranger("jar")
	must(err)
	vessel, err := k.Vessel("jar")
	must(err)
	mat, err := control.New(out, control.Opts{SetpointC: usualC, Probes: []control.Probe{{Name: "p", Place: control.AtVessel}}})
	must(err)
	must(mat.SetMode(now, control.Hold))
	s := New(Opts{Kind: t.kind(), Model: t.model(), UsualC: usualC})
	d := peak.New(peak.Opts{Kind: t.kind(), TargetRatio: t.target, FloorKnown: true, History: t.past})
	var came peak.Event
	ctx := context.Background()
	var c curve
	fed, warmed := false, 0.0
	for i := 0; ; i++ {
		now = start.Add(time.Duration(i) * trialStep)
		since := now.Sub(start) + t.opts.Before - t.fedAt
		temp := math.NaN()
		if r, err := probe.Read(ctx); err == nil {
			temp = r.Value
			mat.Temperature(now, "p", control.AtVessel, temp)
		}
		if i%3 == 0 {
			s.Observe(now, temp, mat.State().On)
		}
		if since < 0 {
			continue
		}
		if !fed {
			fed = true
			s.Fed(now, t.feed)
			d.Fed(now)
		}
		if since == 3*time.Minute {
			if c := p.begin(s, now); c == 0 {
				must(mat.SetMode(now, control.Off))
			} else {
				must(mat.SetSetpoint(now, c))
			}
		}
		if p.then != nil {
			mm := math.NaN()
			if r, err := ranger.Read(ctx); err == nil {
				mm = r.Value
			}
			for _, e := range d.Add(now, vessel.SensorMM-mm, temp) {
				if e.Kind == peak.EventPeak || e.Kind == peak.EventTarget {
					came = e
				}
			}
			if since > 3*time.Minute && since%(5*time.Minute) == 0 {
				v := Observation{ReadAt: now, Stage: d.Status().Stage, Came: came}
				v.Forecast, v.HasForecast = d.Forecast()
				must(mat.SetSetpoint(now, p.then(s, v, now)))
			}
		}
		if i%3 == 0 {
			state, err := k.State("jar")
			must(err)
			over := c.add(state.HeightMM)
			if since < goal {
				warmed += max(state.VesselC-state.RoomC, 0) / 60
			}
			if t.target > 0 && c.mm[c.top] >= t.target*c.mm[0] && since >= goal {
				return c.reached(t.target, warmed)
			}
			if over && since >= goal || since > 36*time.Hour {
				return c.run(warmed)
			}
		}
	}
}

// kind is what stands on the mat.
func (t *trial) kind() peak.Kind {
	if t.target > 0 {
		return peak.Bowl
	}
	return peak.Jar
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}

// harder draws a trial on which a setpoint chosen beforehand goes wrong: the starter has
// become faster or slower than its record by 15 to 35 %, the flour and water come cold
// from the cupboard, and the room cools at night and drifts with the weather. All ranges
// are invented.
func harder(seed uint64) (trial, bool) {
	t, ok := newTrial(seed)
	if !ok {
		return t, false
	}
	rng := rand.New(rand.NewPCG(seed, 55))
	jar := &t.opts.Vessels[0]
	counts := &jar.Feeds[len(jar.Feeds)-1]
	off := 0.15 + 0.2*rng.Float64()
	if rng.Float64() < 0.5 {
		off = -off
	}
	counts.PaceBy *= 1 + off
	counts.WaterC = 13 + 4*rng.Float64()
	room := &t.opts.Room
	room.NightC, room.WeatherC, room.WanderC = 2+3*rng.Float64(), 1+rng.Float64(), 0.5
	return t, true
}

// newDough draws a bread dough of which nothing is known, on a mat in a kitchen
// drawn at random, mixed in the evening.
func newDough(seed uint64) (trial, bool) {
	t := trial{fedAt: 12 * time.Hour, target: 1.75}
	rng := rand.New(rand.NewPCG(seed, 77))
	drawn := simtest.RandomPlant(rng)
	plant := drawn.Opts()
	if drawn.SteadyC(plant.Room.MeanC, 0) > 24 || drawn.SteadyC(plant.Room.MeanC, 1) < 23.5 {
		return t, false
	}
	r := sim.BreadDough()
	t.feed = timetopeak.Mixed(r.Starter, r.Flour, r.Water)
	o := sim.Dough()
	o.Pace *= 0.8 + 0.5*rng.Float64()
	o.Hold *= 0.85 + 0.3*rng.Float64()
	bowl := sim.Vessel{BottomMM: 180, TopMM: 220, RimMM: 150}
	fill := bowl.VolumeML(55)
	plant.Room.StartHour = 10
	t.opts = sim.Opts{Seed: seed, Room: plant.Room, Vessels: []sim.VesselOpts{{
		Name: "jar", Vessel: bowl, Starter: o, Plant: plant,
		Feeds: []sim.Feed{{Ratio: sim.Ratio{Starter: 1, Flour: 2, Water: 2}, FillML: fill / 4}, {At: t.fedAt, Ratio: r, FillML: fill}},
	}}}
	return t, true
}
