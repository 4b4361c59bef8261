package control_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"leavend/control"
	"leavend/control/plug"
	"leavend/control/plug/plugtest"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// writeFaults renews FAULTS.md:
//
//	go test ./control -run TestFaults -write-faults
var writeFaults = flag.Bool("write-faults", false, "write FAULTS.md from what the faults did")

// meter is an output with a power meter on it, and every way to fail.
type meter struct {
	n        *rig
	on       bool
	until    time.Time
	onErr    error
	offErr   error
	offFails int  // so many offs fail, then no more
	blocks   bool // writes hang until their context ends
	panics   bool
}

func (m *meter) On(ctx context.Context, lease time.Duration) error {
	if err := m.trouble(ctx); err != nil {
		return err
	}
	if m.onErr != nil {
		return m.onErr
	}
	m.on, m.until = true, m.n.now().Add(lease)
	return nil
}

func (m *meter) Off(ctx context.Context) error {
	if m.offFails > 0 {
		m.offFails--
		return errors.New("input/output error")
	}
	if m.offErr != nil {
		return m.offErr
	}
	m.on = false // even an off that reports late arrives
	return m.trouble(ctx)
}

func (m *meter) trouble(ctx context.Context) error {
	if m.panics {
		m.panics = false
		panic("the output's code fails")
	}
	if m.blocks {
		<-ctx.Done()
		return ctx.Err()
	}
	return nil
}

func (m *meter) String() string { return "meter" }

// rig is a kitchen for one fault: a mat under control, probes that say what
// they are told or what a simulated plant makes them say, and a meter.
type rig struct {
	m     *control.Mat
	o     control.Opts
	meter *meter
	plug  *plugtest.Fake
	plant *sim.Plant
	begin time.Time
	past  time.Duration
	seen  atomic.Int64 // past once more, for an output that hangs on in a goroutine of its own
	plain bool         // times without their monotonic part, with a clock that is off by
	shift time.Duration

	probes map[string]*fakeProbe
	loop   bool // the guard's ticker runs
	welded bool // the mat heats whatever the output says
	each   func(past time.Duration)
}

// fakeProbe is one probe of the rig.
type fakeProbe struct {
	place  control.Place
	tempC  float64
	silent bool
	every  time.Duration
	last   time.Duration
	fails  bool
	script func(past time.Duration) float64
}

// now is the time the mat is told.
func (r *rig) now() time.Time {
	at := r.begin.Add(time.Duration(r.seen.Load()))
	if r.plain {
		return at.Add(r.shift).Round(0)
	}
	return at
}

// wait lets d pass.
func (r *rig) wait(d time.Duration) {
	r.past += d
	r.seen.Store(int64(r.past))
}

// powered reports whether the mat heats now.
func (r *rig) powered() bool {
	if r.plug != nil {
		return r.plug.IsOn()
	}
	return r.meter.on && r.now().Before(r.meter.until)
}

// run lets time pass until the mat is as wanted, or for d.
func (r *rig) run(d time.Duration, until func() bool) time.Duration {
	const step = 2 * time.Second
	for began := r.past; r.past-began < d; r.wait(step) {
		if until != nil && until() {
			return r.past - began
		}
		for _, name := range slices.Sorted(maps.Keys(r.probes)) {
			r.sound(name, r.probes[name])
		}
		if r.each != nil {
			r.each(r.past)
		}
		if r.loop {
			r.m.Tick(r.now())
		}
		if r.plant != nil {
			r.plant.Step(step, r.powered() || r.welded)
		}
	}
	return d
}

// sound lets a probe be read when its time has come.
func (r *rig) sound(name string, p *fakeProbe) {
	if p.silent || r.past-p.last < p.every {
		return
	}
	p.last = r.past
	switch {
	case p.fails:
		r.m.Failed(r.now(), name, errors.New("no answer"))
		return
	case p.script != nil:
		p.tempC = p.script(r.past)
	case r.plant != nil:
		p.tempC = math.Round(r.plant.ProbeC(sensor.Place(p.place))*16) / 16
	}
	r.m.Temperature(r.now(), name, p.place, p.tempC)
}

// restart makes a new mat, as a new process would, with what the old one kept.
func (r *rig) restart(kept control.Snapshot) error {
	m, err := control.New(r.meter, r.o)
	if err != nil {
		return err
	}
	r.m = m
	m.Restore(kept, 0)
	return m.SetMode(r.now(), control.Hold)
}

// tells reports whether a fault is there.
func tells(m *control.Mat, k control.FaultKind) bool {
	return slices.ContainsFunc(m.State().Faults, func(f control.Fault) bool { return f.Kind == k })
}

// injected is one row of the table.
type injected struct {
	group, fault string
	o            control.Opts
	recipe       string // with a fake plug instead of the meter
	plant        *sim.PlantOpts
	extra        map[string]*fakeProbe
	do           func(*rig) error // injects; an error it returns is the alarm
	watch        time.Duration    // how long the fault is watched
	heats        bool             // the mat is expected to heat at the end
	within       time.Duration    // else: off by then
	ends         bool             // the heat ends: the mat is not on again before the alarm
	aboveC       float64          // with ends: how far the vessel may rise above its setpoint
	alarm        string           // expected: a fault's kind, or part of an error; "" for none
}

// result is what one row did.
type result struct {
	mat, alarm string
	ok         bool
}

// play runs one row in virtual time.
func (in injected) play(t *testing.T) result {
	r := &rig{o: in.o, begin: time.Now(), loop: true, probes: map[string]*fakeProbe{
		"crumb": {place: control.AtVessel, tempC: 20, every: 10 * time.Second},
	}}
	for name, p := range in.extra {
		c := *p
		c.every = 10 * time.Second
		r.probes[name] = &c
	}
	r.meter = &meter{n: r}
	var out control.Output = r.meter
	if in.recipe != "" {
		out = r.withPlug(t, in.recipe)
	}
	if in.plant != nil {
		r.plant = sim.NewPlant(*in.plant)
	}
	m, err := control.New(out, in.o)
	if err != nil {
		t.Fatal(err)
	}
	r.m = m
	if err := m.SetMode(r.now(), control.Hold); err != nil {
		t.Fatal(err)
	}
	r.run(time.Hour, r.powered)
	if !r.powered() {
		t.Fatalf("%s: the mat did not come on before the fault (%s)", in.fault, m.State().Reason)
	}
	r.run(30*time.Second, nil)
	told := in.do(r)
	return in.judge(r, told)
}

// withPlug puts a fake plug in the meter's place.
func (r *rig) withPlug(t *testing.T, kind string) control.Output {
	r.plug = plugtest.New(kind, "oven", r.now)
	recipe, err := plug.ByName(kind, "oven", 1)
	if err != nil {
		t.Fatal(err)
	}
	dev, err := plug.New(recipe, r.plug, plug.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	r.plug.Tell(dev.Heard)
	return dev
}

// judge watches what the fault does, and compares.
func (in injected) judge(r *rig, told error) result {
	if in.watch == 0 {
		in.watch = 10 * time.Minute
	}
	seen := map[control.FaultKind]bool{}
	look := func() {
		for _, f := range r.m.State().Faults {
			seen[f.Kind] = true
		}
	}
	off := time.Duration(-1)
	began, lastOn, topC := r.past, r.past, math.Inf(-1)
	r.run(in.watch, func() bool {
		look()
		if r.powered() {
			lastOn = r.past
		}
		if r.plant != nil {
			topC = max(topC, r.plant.VesselC())
		}
		if off < 0 && (!in.ends && !r.powered() || in.ends && seen[control.FaultKind(in.alarm)]) {
			off = lastOn - began
			if !in.ends {
				off = r.past - began
			}
		}
		return false
	})
	look()
	res := result{mat: "heats"}
	if off >= 0 {
		res.mat = "off after " + off.String()
		if off == 0 {
			res.mat = "off at once"
		}
		switch {
		case in.ends:
			res.mat = fmt.Sprintf("heat ended after %s, vessel at most %.1f °C above its setpoint", off.Round(time.Minute), topC-r.o.SetpointC)
		case r.powered():
			res.mat += ", later on again"
		}
	}
	var names []string
	for k := range seen {
		names = append(names, string(k))
	}
	slices.Sort(names)
	if told != nil {
		names = append(names, told.Error())
	}
	res.alarm = strings.Join(names, ", ")
	res.ok = in.alarm == "" && res.alarm == "" || in.alarm != "" && strings.Contains(res.alarm, in.alarm)
	if in.heats {
		res.ok = res.ok && off < 0
	} else {
		res.ok = res.ok && off >= 0 && off <= in.within && (!in.ends || topC-r.o.SetpointC <= in.aboveC)
	}
	return res
}

// expected says what the row expects of the mat.
func (in injected) expected() string {
	switch {
	case in.heats:
		return "heats on"
	case in.ends:
		return fmt.Sprintf("heat ended within %s, vessel below setpoint + %g °C", in.within, in.aboveC)
	case in.within == 0:
		return "off at once"
	}
	return "off within " + in.within.String()
}

// TestFaults injects every fault and compares what the mat and the alarm did
// with what they must do.
func TestFaults(t *testing.T) {
	var b strings.Builder
	b.WriteString(faultsHead)
	for i, in := range faults() {
		if raceEnabled && in.recipe == "" {
			continue // one goroutine, hours of virtual time: nothing to race
		}
		var res result
		t.Run(fmt.Sprintf("%02d %s", i+1, in.fault), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { res = in.play(t) })
			if !res.ok {
				t.Errorf("mat: %s, want %s; alarm: %q, want %q", res.mat, in.expected(), res.alarm, in.alarm)
			}
		})
		none := func(s string) string {
			if s == "" {
				return "none"
			}
			return s
		}
		fmt.Fprintf(&b, "| %d | %s | %s | %s | %s | %s | %s |\n", i+1, in.group, in.fault, in.expected(), res.mat, none(in.alarm), none(res.alarm))
	}
	if raceEnabled {
		return
	}
	if *writeFaults {
		if err := os.WriteFile("FAULTS.md", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile("FAULTS.md")
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		t.Error("FAULTS.md is not what the faults did; renew it: go test ./control -run TestFaults -write-faults")
	}
}

const faultsHead = `# What the mat does when something breaks

This table is written by the tests: each row injects one fault into a mat that
is heating, in virtual time, and says what a power meter on the mat saw and
which alarm was raised. Limits are the defaults: readings go stale after 2
minutes, a lease is 1 minute. A plug is a fake that keeps its own timer.

What no row can show: a relay that welds or a transistor that fails closed
keeps the mat on whatever this program does. It is noticed (stuck-on), and
only an independent thermal cut-out on the mat ends it. A plug whose timer is
switched off in its own settings stays on when the daemon dies.

| # | where | fault | expected of the mat | seen | expected alarm | raised |
|---|---|---|---|---|---|---|
`
