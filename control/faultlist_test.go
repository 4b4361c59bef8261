package control_test

import (
	"errors"
	"fmt"
	"math"
	"testing/synctest"
	"time"

	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// say makes the vessel's probe say one value for ever.
func say(c float64) func(*rig) error {
	return func(r *rig) error { r.probes["crumb"].tempC = c; r.plant = nil; return nil }
}

// once makes it say one value once, and then the old one again.
func once(c float64) func(*rig) error {
	return func(r *rig) error { r.m.Temperature(r.now(), "crumb", control.AtVessel, c); return nil }
}

// climb warms a probe by half a degree in ten seconds, from 20 °C.
func climb(name string, rate float64) func(*rig) error {
	return func(r *rig) error {
		p, from := r.probes[name], r.past
		start := p.tempC
		p.script = func(past time.Duration) float64 { return start + rate*(past-from).Minutes() }
		return nil
	}
}

// faults lists every fault that is injected.
func faults() []injected {
	all := sensorFaults()
	for _, more := range [][]injected{heatFaults(), outputFaults(), plugFaults(), processFaults(), clockFaults(), userFaults()} {
		all = append(all, more...)
	}
	return all
}

func sensorFaults() []injected {
	mat := map[string]*fakeProbe{"skin": {place: control.AtMat, tempC: 24}}
	second := map[string]*fakeProbe{"crumb-2": {place: control.AtVessel, tempC: 20}}
	stale := 2 * time.Minute
	return []injected{
		{group: "sensor", fault: "probe silent", do: func(r *rig) error { r.probes["crumb"].silent = true; return nil }, within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "every read fails", do: func(r *rig) error { r.probes["crumb"].fails = true; return nil }, within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "one read fails", do: func(r *rig) error { r.m.Failed(r.now(), "crumb", errors.New("bad checksum")); return nil }, heats: true},
		{group: "sensor", fault: "says NaN", do: say(math.NaN()), within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "says +Inf", do: say(math.Inf(1)), within: 10 * time.Second, alarm: "suspect-probe"},
		{group: "sensor", fault: "says -Inf", do: say(math.Inf(-1)), within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "says 85.000 °C for ever", do: say(85), within: 10 * time.Second, alarm: "suspect-probe"},
		{group: "sensor", fault: "says 85.000 °C once", do: once(85), alarm: "suspect-probe"},
		{group: "sensor", fault: "says 127.94 °C", do: say(127.94), within: 10 * time.Second, alarm: "suspect-probe"},
		{group: "sensor", fault: "says -127 °C (wire off)", do: say(-127), within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "says 200 °C", do: say(200), within: 10 * time.Second, alarm: "suspect-probe"},
		{group: "sensor", fault: "jumps by 8 °C once", do: once(28), heats: true},
		{group: "sensor", fault: "jumps over the cutoff once", do: once(36), alarm: "suspect-probe"},
		{group: "sensor", fault: "every second value is absurd", do: func(r *rig) error {
			n := 0
			r.probes["crumb"].script = func(time.Duration) float64 { n++; return map[bool]float64{true: -55, false: 20}[n%2 == 0] }
			return nil
		}, heats: true},
		{group: "sensor", fault: "vessel climbs over its cutoff", do: climb("crumb", 3), within: 6 * time.Minute, alarm: "vessel-cutoff", watch: 10 * time.Minute},
		{group: "sensor", fault: "mat surface climbs over its cutoff", extra: mat, do: climb("skin", 6), within: 6 * time.Minute, alarm: "mat-cutoff"},
		{group: "sensor", fault: "mat probe silent", extra: mat, do: func(r *rig) error { r.probes["skin"].silent = true; return nil }, within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "two vessel probes drift apart", extra: second, do: climb("crumb-2", 0.5), within: 8 * time.Minute, alarm: "probes-disagree"},
		{group: "sensor", fault: "one of two vessel probes silent", extra: second, do: func(r *rig) error { r.probes["crumb-2"].silent = true; return nil }, within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "probe swaps its place", do: func(r *rig) error { r.probes["crumb"].place = control.AtRoom; return nil }, within: stale, alarm: "stale-probe"},
		{group: "sensor", fault: "a reading from a place that does not exist", do: func(r *rig) error {
			r.m.Temperature(r.now(), "ghost", "shelf", 90)
			return nil
		}, heats: true},
		{group: "sensor", fault: "distance sensor fails all the time", do: func(r *rig) error {
			for range 100 {
				r.m.Failed(r.now(), "eye", errors.New("no echo"))
			}
			return nil
		}, heats: true},
		{group: "bus", fault: "bus hangs, no probe is read", do: func(r *rig) error {
			for _, p := range r.probes {
				p.silent = true
			}
			return nil
		}, within: stale, alarm: "stale-probe"},
		{group: "bus", fault: "bus is slow: a reading every 100 s", do: func(r *rig) error { r.probes["crumb"].every = 100 * time.Second; return nil }, heats: true},
		{group: "bus", fault: "bus is too slow: a reading every 150 s", do: func(r *rig) error { r.probes["crumb"].every = 150 * time.Second; return nil }, within: stale, alarm: "stale-probe"},
	}
}

func heatFaults() []injected {
	jar := &sim.PlantOpts{MatW: 20, ContentsKg: 0.6, Room: sim.RoomOpts{MeanC: 18, WanderC: 0.2}}
	o := control.Opts{SetpointC: 26}
	fallen := func(r *rig) error {
		r.run(4*time.Hour, nil)
		r.plant.SetProbeOut(true)
		return nil
	}
	// says lets a probe in a vessel that is held say something else.
	says := func(f func(c float64, past time.Duration) float64) func(*rig) error {
		return func(r *rig) error {
			r.run(4*time.Hour, nil)
			began := r.past
			r.probes["crumb"].script = func(past time.Duration) float64 {
				return f(math.Round(r.plant.ProbeC(sensor.AtVessel)*16)/16, past-began)
			}
			return nil
		}
	}
	return []injected{
		{group: "heat", fault: "probe frozen at 20 °C", o: o, plant: jar, do: says(func(float64, time.Duration) float64 { return 20 }), watch: 4 * time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "probe fallen out, reads a breathing room", o: o, plant: jar, do: fallen, watch: 8 * time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "probe fallen out, a restart every 25 minutes", o: o, plant: jar, do: func(r *rig) error {
			err := fallen(r)
			began := r.past
			for range 12 {
				r.run(25*time.Minute, nil)
				if e := r.restart(r.m.Snapshot()); e != nil {
					err = e
				}
				if tells(r.m, control.FaultNoGain) {
					break
				}
			}
			if r.past-began > 4*time.Hour {
				err = errors.New("not found in four hours")
			}
			return err
		}, watch: time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "probe fallen out, a hub moves the setpoint each half hour", o: o, plant: jar, do: func(r *rig) error {
			err := fallen(r)
			r.each = func(past time.Duration) {
				if past%(30*time.Minute) == 0 {
					_ = r.m.SetSetpoint(r.now(), 25+float64(past/(30*time.Minute)%3)/2)
				}
			}
			return err
		}, watch: 8 * time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "reading stands still 0.06 °C below the setpoint", o: o, plant: jar, do: says(func(float64, time.Duration) float64 { return 25.9375 }), watch: 8 * time.Hour, within: 3 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "bad joint: ten minutes in twenty read 4 °C low", o: o, plant: jar, do: says(func(c float64, past time.Duration) float64 {
			return c - 4*float64(past/(10*time.Minute)%2)
		}), watch: 8 * time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "probe drifts by 0.5 °C an hour, with a probe in the room", o: o, plant: jar, extra: map[string]*fakeProbe{"air": {place: control.AtRoom}}, do: says(func(c float64, past time.Duration) float64 {
			return c - past.Hours()/2
		}), watch: 8 * time.Hour, within: 6 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "mat unplugged", o: o, plant: jar, do: func(r *rig) error { r.plant.SetMat(sim.MatUnplugged); return nil }, watch: 8 * time.Hour, within: 2 * time.Hour, ends: true, aboveC: 3, alarm: "no-gain"},
		{group: "heat", fault: "half of the mat broken: slower, but it warms", o: control.Opts{SetpointC: 22}, plant: jar, do: func(r *rig) error {
			r.plant.SetMat(sim.MatHalf)
			r.run(90*time.Minute, nil)
			if r.plant.VesselC() < 20 {
				return fmt.Errorf("it stands at %.1f °C", r.plant.VesselC())
			}
			r.run(time.Hour, r.powered)
			return nil
		}, watch: 10 * time.Second, heats: true},
		{group: "heat", fault: "switch welded: told off, and the vessel warms", o: control.Opts{SetpointC: 24}, plant: jar, do: func(r *rig) error {
			r.welded = true
			return nil
		}, watch: 6 * time.Hour, within: 2 * time.Hour, alarm: "stays-warm"},
	}
}

func outputFaults() []injected {
	broken := errors.New("input/output error")
	return []injected{
		{group: "output", fault: "renewing an on fails", do: func(r *rig) error { r.meter.onErr = broken; return nil }, within: time.Minute, alarm: "output"},
		{group: "output", fault: "off fails when the probe falls silent: the lease ends it", do: func(r *rig) error {
			r.meter.offErr = broken
			r.probes["crumb"].silent = true
			return nil
		}, within: 2 * time.Minute, alarm: "output"},
		{group: "output", fault: "off fails twice, then works", do: func(r *rig) error {
			r.meter.offFails = 2
			return r.m.SetMode(r.now(), control.Off)
		}, within: 4 * time.Second, alarm: "output"},
		{group: "output", fault: "every write fails", do: func(r *rig) error { r.meter.onErr, r.meter.offErr = broken, broken; return nil }, within: time.Minute, alarm: "output"},
		{group: "output", fault: "every write hangs", do: func(r *rig) error { r.meter.blocks = true; return nil }, within: time.Minute, alarm: "output"},
		{group: "output", fault: "the output's own code panics", do: func(r *rig) (err error) {
			defer func() { err = fmt.Errorf("panic: %v", recover()) }()
			r.meter.panics = true
			r.run(time.Minute, nil)
			return nil
		}, within: 0, alarm: "panic"},
	}
}

func plugFaults() []injected {
	var all []injected
	for _, kind := range []string{"tasmota", "zigbee2mqtt", "shelly", "esphome"} {
		all = append(all, injected{group: "plug", fault: "daemon killed with a " + kind + " plug on: its own timer ends it", recipe: kind,
			do: func(r *rig) error { r.loop, r.probes = false, nil; return nil }, within: time.Minute})
	}
	return append(all, []injected{
		{group: "network", fault: "broker lost while heating", recipe: "tasmota", do: func(r *rig) error { r.plug.Offline(true); return nil }, within: time.Minute, alarm: "output"},
		{group: "network", fault: "plug out of reach", recipe: "tasmota", do: func(r *rig) error { r.plug.Gone(true); return nil }, within: time.Minute, alarm: "output"},
		{group: "network", fault: "one command lost: renewed in time", recipe: "tasmota", do: func(r *rig) error { r.plug.LoseCommands(1); return nil }, heats: true},
		{group: "network", fault: "echoes lost", recipe: "tasmota", do: func(r *rig) error { r.plug.LoseEchoes(1000); return nil }, within: time.Minute, alarm: "output"},
		{group: "network", fault: "client hangs in publish", recipe: "tasmota", do: func(r *rig) error {
			release := r.plug.Hang()
			r.run(5*time.Minute, func() bool { return !r.powered() })
			release()
			synctest.Wait() // what hung goes out before time moves on
			return nil
		}, within: time.Minute, alarm: "output"},
		{group: "plug", fault: "button pressed: on becomes off", recipe: "tasmota", do: func(r *rig) error { r.plug.Press(); return nil }, within: 0, alarm: "output"},
		{group: "plug", fault: "told off, and somebody presses on", recipe: "tasmota", do: func(r *rig) error {
			_ = r.m.SetMode(r.now(), control.Off)
			r.run(30*time.Second, nil)
			r.plug.Press()
			r.run(4*time.Second, nil)
			return nil
		}, within: 10 * time.Second, alarm: "output"},
		{group: "plug", fault: "told off unheard, rebooted into its last state", recipe: "tasmota", do: func(r *rig) error {
			r.plug.Gone(true)
			_ = r.m.SetMode(r.now(), control.Off)
			r.plug.Gone(false)
			r.plug.Reboot(true)
			return nil
		}, within: 20 * time.Second, alarm: "output"},
	}...)
}

func processFaults() []injected {
	return []injected{
		{group: "process", fault: "control loop and bus stall", do: func(r *rig) error { r.loop, r.probes = false, nil; return nil }, within: time.Minute},
		{group: "process", fault: "guard's ticker dies, readings go on", do: func(r *rig) error { r.loop = false; return nil }, heats: true},
		{group: "process", fault: "loop stalls for 5 minutes and comes back", do: func(r *rig) error {
			loop, probes := r.loop, r.probes
			r.loop, r.probes = false, nil
			r.run(5*time.Minute, nil)
			r.loop, r.probes = loop, probes
			r.m.Tick(r.now())
			return nil
		}, alarm: "stale-probe"},
		{group: "process", fault: "a goroutine of the daemon panics", do: func(r *rig) (err error) {
			func() {
				defer func() { err = fmt.Errorf("panic: %v", recover()) }()
				defer r.m.OffOnPanic()
				panic("a nil map")
			}()
			r.loop, r.probes = false, nil
			return err
		}, alarm: "panic"},
		{group: "process", fault: "daemon ends (Close)", do: func(r *rig) error { return r.m.Close() }},
		{group: "process", fault: "restart while heating: the pause is served in full", do: func(r *rig) error {
			err := r.restart(r.m.Snapshot())
			if took := r.run(time.Hour, r.powered); took < 2*time.Minute {
				return fmt.Errorf("on again after %s", took)
			}
			r.loop, r.probes = false, nil
			return err
		}, within: time.Minute},
		{group: "process", fault: "restart after a cutoff: still latched", do: func(r *rig) error {
			_ = climb("crumb", 3)(r)
			r.run(8*time.Minute, nil)
			r.probes["crumb"].script, r.probes["crumb"].tempC = nil, 20
			return r.restart(r.m.Snapshot())
		}, watch: 2 * time.Hour, alarm: "vessel-cutoff"},
		{group: "disk", fault: "stored state names a fault of a newer version", do: func(r *rig) error {
			return r.restart(control.Snapshot{Latched: []control.FaultKind{"meteor"}})
		}, watch: 2 * time.Hour, alarm: "panic"},
		{group: "disk", fault: "stored constants are nonsense: they are ignored", do: func(r *rig) error {
			err := r.restart(control.Snapshot{OnS: []int{-1, 1 << 60}, RunS: -1, RestS: -5, NoGainS: -7, Mat: &control.Learnt{DelayMin: math.NaN(), RateCMin: -3}})
			r.run(time.Hour, r.powered)
			return err
		}, heats: true},
		{group: "disk", fault: "nothing can be stored: the mat does not ask", do: func(*rig) error { return nil }, heats: true},
	}
}

func clockFaults() []injected {
	return []injected{
		{group: "clock", fault: "times lose their monotonic part, clock jumps a year on", do: func(r *rig) error {
			r.plain, r.shift = true, 365*24*time.Hour
			r.m.Tick(r.now())
			r.meter.until = r.now()
			return nil
		}, alarm: "stale-probe"},
		{group: "clock", fault: "times lose their monotonic part, clock jumps a year back, and the probe falls silent", do: func(r *rig) error {
			r.plain, r.shift = true, -365*24*time.Hour
			r.meter.until = r.meter.until.Add(r.shift).Round(0)
			r.probes["crumb"].silent = true
			return nil
		}, within: 150 * time.Second, alarm: "stale-probe"},
		{group: "clock", fault: "two goroutines' times are out of order by a second", do: func(r *rig) error {
			for range 50 {
				r.m.Tick(r.now().Add(-time.Second))
				r.m.Tick(r.now())
			}
			return nil
		}, heats: true},
	}
}

func userFaults() []injected {
	return []injected{
		{group: "config", fault: "setpoint 1 °C below a cutoff", do: func(r *rig) error { return r.m.SetSetpoint(r.now(), 34) }, heats: true, alarm: "outside 5 to 33"},
		{group: "config", fault: "setpoint NaN", do: func(r *rig) error { return r.m.SetSetpoint(r.now(), math.NaN()) }, heats: true, alarm: "outside 5 to 33"},
		{group: "config", fault: "cutoff of 90 °C", do: func(r *rig) error {
			_, err := control.New(r.meter, control.Opts{VesselCutoffC: 90})
			r.loop, r.probes = false, nil
			return err
		}, within: time.Minute, alarm: "vessel_cutoff_c: 90 is outside"},
		{group: "config", fault: "mode that does not exist", do: func(r *rig) error { return r.m.SetMode(r.now(), "boost") }, heats: true, alarm: "not off or hold"},
		{group: "user", fault: "switched off by hand", do: func(r *rig) error { return r.m.SetMode(r.now(), control.Off) }},
		{group: "user", fault: "acknowledged while still hot", do: func(r *rig) error {
			_ = climb("crumb", 3)(r)
			r.run(6*time.Minute, nil)
			return r.m.Acknowledge(r.now())
		}, alarm: "let it cool"},
	}
}
