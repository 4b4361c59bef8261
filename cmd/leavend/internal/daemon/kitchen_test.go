package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
	"unsafe"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
	"leavend/sensor/sim/simtest"
	"leavend/sensor/w1/w1test"
)

// The tests of this file run the whole daemon, without its network, in the
// invented kitchen and in virtual time: a night takes a second.

// testDaemon is a daemon under test.
type testDaemon struct {
	*Daemon
	kitchen *sim.Kitchen
	heard   *monitor.Listener
	events  []event.Event
	stop    context.CancelFunc
	ended   chan error
}

// openTestDaemon starts a daemon in dir. It must be called in a synctest bubble.
func openTestDaemon(t *testing.T, k *sim.Kitchen, text string, change func(*Parts)) *testDaemon {
	t.Helper()
	conf := configtest.Parse(t, text)
	mat, err := k.Mat(sim.Bramble)
	if err != nil {
		t.Fatal(err)
	}
	p := Parts{ClockMade: true, Agreed: true, Mat: mat, Note: filepath.Join(conf.DataDir, "mat.json"), Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) {
		ranger, err := k.Ranger(sim.Bramble)
		if err != nil {
			return nil, nil, err
		}
		probe, err := k.Probe(sim.Bramble, sensor.AtVessel)
		return ranger, probe, err
	}}
	if change != nil {
		change(&p)
	}
	ctx, stop := context.WithCancel(context.Background())
	log := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError}))
	p.Hub = &monitor.Hub{}
	heard := p.Hub.Listen("test")
	d, err := New(ctx, conf, log, p)
	if err != nil {
		t.Fatal(err)
	}
	h := &testDaemon{Daemon: d, kitchen: k, heard: heard, stop: stop, ended: make(chan error, 1)}
	go func() { h.ended <- d.Run(ctx) }()
	return h
}

// pass lets time go by, hands on what the invented baker says, and gathers
// the events.
func (h *testDaemon) pass(t *testing.T, d time.Duration, each func()) {
	t.Helper()
	for end := time.Now().Add(d); time.Now().Before(end); {
		time.Sleep(10 * time.Second)
		synctest.Wait()
		for _, p := range h.kitchen.Presses() {
			if v := h.Find(p.Vessel); v != nil {
				if _, err := h.Fed(context.Background(), v.Conf.Slug, store.Feed{At: p.At}); err != nil {
					t.Error(err)
				}
			}
		}
		for _, it := range h.heard.Flush() {
			if it.Event != nil && it.Event.Kind != event.Forecast {
				h.events = append(h.events, *it.Event)
			}
		}
		if each != nil {
			each()
		}
	}
}

// close ends the daemon as a signal does.
func (h *testDaemon) close(t *testing.T) {
	t.Helper()
	h.stop()
	if err := <-h.ended; err != nil {
		t.Error(err)
	}
}

// of returns the events of one kind.
func (h *testDaemon) of(kind event.Kind) []event.Event {
	return slices.DeleteFunc(slices.Clone(h.events), func(e event.Event) bool { return e.Kind != kind })
}

// truth is what is so in the kitchen, whatever the sensors say.
func truth(t *testing.T, k *sim.Kitchen) sim.State {
	t.Helper()
	s, err := k.State(sim.Bramble)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// drawing reports whether the mat under the jar draws current.
func drawing(t *testing.T, k *sim.Kitchen) bool {
	t.Helper()
	mat, err := k.Mat(sim.Bramble)
	if err != nil {
		t.Fatal(err)
	}
	return mat.Drawing()
}

// TestDayInTheKitchen follows one feed from end to end: fed, risen, called on
// its peak, with the probe unplugged on the way.
func TestDayInTheKitchen(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		opened := time.Now()
		heated := false
		var top float64
		var topAt time.Time
		h.pass(t, 10*time.Hour, func() {
			if now := truth(t, k).HeightMM; len(h.of(event.Fed)) > 0 && now > top {
				top, topAt = now, time.Now()
			}
			on := drawing(t, k)
			heated = heated || on
			// The probe is unplugged from 3:30 on for forty minutes.
			since := time.Since(opened)
			if blind := since > 3*time.Hour+33*time.Minute && since < 4*time.Hour+9*time.Minute; blind && on {
				t.Errorf("the mat heats %v after the opening, with its probe unplugged", since)
			}
		})
		if !heated {
			t.Error("the mat never heated")
		}
		if n := len(h.of(event.Fed)); n != 1 {
			t.Errorf("%d feeds told, want 1", n)
		}
		tops := h.of(event.Peak)
		if len(tops) != 1 {
			t.Fatalf("%d calls of the top, want 1", len(tops))
		}
		if off := tops[0].Detected.PeakAt.Sub(topAt); off.Abs() > 45*time.Minute {
			t.Errorf("top said to be at %v, the kitchen had it at %v", tops[0].Detected.PeakAt, topAt)
		}
		var faults, cleared []event.Reason
		for _, e := range h.of(event.AlarmRaised) {
			faults = append(faults, e.Alarm.Reason)
		}
		for _, e := range h.of(event.AlarmCleared) {
			cleared = append(cleared, e.Alarm.Reason)
		}
		for _, want := range []event.Reason{event.NoReading, event.Reason(control.FaultStale)} {
			if !slices.Contains(faults, want) || !slices.Contains(cleared, want) {
				t.Errorf("fault %s: told %v, over %v", want, faults, cleared)
			}
		}
		h.close(t)
		if drawing(t, k) {
			t.Error("the mat heats after the daemon has closed")
		}
	})
}

// TestRestartOnTheWay stops the daemon half-way up and starts it again: the
// curve goes on, the mat starts off, and the top is called once.
func TestRestartOnTheWay(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		h.pass(t, 5*time.Hour, nil)
		before := h.Vessels[0].Curve()
		h.close(t)
		time.Sleep(time.Minute)

		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		again.pass(t, time.Minute, func() {
			if drawing(t, k) {
				t.Error("the mat heats within a minute of the start")
			}
		})
		after := again.Vessels[0].Curve()
		if after.FedAt.Sub(before.FedAt).Abs() > time.Second {
			t.Errorf("fed at %v after the restart, %v before", after.FedAt, before.FedAt)
		}
		if math.Abs(after.RiseMM-before.RiseMM) > 3 {
			t.Errorf("risen %.1f mm after the restart, %.1f mm before", after.RiseMM, before.RiseMM)
		}
		again.pass(t, 5*time.Hour, nil)
		if n := len(h.of(event.Peak)) + len(again.of(event.Peak)); n != 1 {
			t.Errorf("%d calls of the top over both runs, want 1", n)
		}
		again.close(t)
	})
}

// TestOffAcrossTheTop has the daemon off while the jar stands at its peak. On
// start the baker hears what was missed, and that it was.
func TestOffAcrossTheTop(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		h.pass(t, 5*time.Hour, nil)
		h.close(t)
		time.Sleep(4 * time.Hour)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		again.pass(t, time.Hour, nil)
		for _, e := range again.events {
			if e.Kind == event.Peak && strings.Contains(e.Text, "at its peak now") && time.Since(e.Detected.PeakAt) > 3*time.Hour {
				t.Errorf("an old top is told as new: %s", e.Text)
			}
		}
		if s := again.Vessels[0].Curve(); s.Stage.String() == "rising" {
			t.Errorf("an hour after the start the jar is still said to be rising")
		}
		again.close(t)
	})
}

// TestPowerOnValue plants the DS18B20's power-on value, 85.000 °C with a right
// checksum, in a kernel folder: the reading is refused and the mat goes off.
func TestPowerOnValue(t *testing.T) {
	dir := t.TempDir()
	probe := filepath.Join(dir, "28-0000000000a1")
	if err := os.MkdirAll(probe, 0o755); err != nil {
		t.Fatal(err)
	}
	show := func(first string, milli int) {
		text := fmt.Sprintf("%s : crc=%s YES\n%s t=%d\n", first, first[len(first)-2:], first, milli)
		configtest.WriteFile(t, filepath.Join(probe, "w1_slave"), text)
	}
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		// 20.0 °C (0140h); the checksum is worked out by the w1 package's rule.
		show("40 01 4b 46 7f ff 0c 10 "+w1test.Checksum("40 01 4b 46 7f ff 0c 10"), 20000)
		text := fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "eye"
chip = "kitchen"
[[sensor]]
name = "crumb"
chip = "ds18b20"
path = %q
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "crumb"
[mat]
output = "gpio"
line = 17
`, filepath.Join(dir, "data"), dir) + leavendtest.NoNetwork
		h := openTestDaemon(t, k, text, nil)
		h.pass(t, 10*time.Minute, nil)
		if !drawing(t, k) {
			t.Fatal("at 20 °C the mat does not heat")
		}
		show("50 05 4b 46 7f ff 0c 10 1c", 85000) // data sheet, table 1: 0550h
		h.pass(t, 2*time.Minute, nil)
		if drawing(t, k) {
			t.Error("the mat heats on after two minutes of 85.000 °C")
		}
		for _, e := range h.of(event.AlarmRaised) {
			if e.Alarm.Reason == event.Reason(control.FaultVesselCutoff) {
				t.Error("85.000 °C was believed and tripped the cutoff")
			}
		}
		h.close(t)
	})
}

// stepped returns t with its wall clock moved and its monotonic reading kept, as
// the machine gives it after somebody sets the clock. The times of a synctest
// bubble have no monotonic reading; they get the one that they would have. It
// relies on how the time package lays out a time, and TestStepped fails if that
// changes.
func stepped(t time.Time, by time.Duration) time.Time {
	raw := (*struct {
		wall uint64
		ext  int64
	})(unsafe.Pointer(&t))
	if raw.wall>>63 == 0 { // ext is the seconds since the year 1
		since := t.Sub(time.Date(1999, 1, 1, 0, 0, 0, 0, time.UTC))
		seconds := uint64(t.Unix() - time.Date(1885, 1, 1, 0, 0, 0, 0, time.UTC).Unix())
		raw.wall, raw.ext = 1<<63|seconds<<30|raw.wall&(1<<30-1), int64(since)
	}
	raw.wall += uint64(by/time.Second) << 30
	return t
}

// TestStepped holds stepped to what it says, in a bubble and outside.
func TestStepped(t *testing.T) {
	check := func(t *testing.T) {
		const by = 31 * time.Hour
		plain := time.Now()
		time.Sleep(time.Millisecond)
		later := time.Now()
		first, moved := stepped(plain, 0), stepped(later, by)
		if !first.Equal(plain) || moved.Round(0).Sub(later.Round(0)) != by || moved.Sub(first) != later.Sub(plain) {
			t.Errorf("%v and %v became %v and %v", plain, later, first, moved)
		}
	}
	check(t)
	synctest.Test(t, check)
}

// TestWallClockStep moves the wall clock by a year either way in the middle
// of the rise: no heat, no feed and no top comes of it.
func TestWallClockStep(t *testing.T) {
	simtest.NotUnderRace(t)
	const year = 365 * 24 * time.Hour
	for name, by := range map[string]time.Duration{"a year ahead": year, "a year back": -year} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				var skew atomic.Int64
				c := event.NewClock(time.Now(), 1)
				c.Wall = func(t time.Time) time.Time { return stepped(t, time.Duration(skew.Load())) }
				k, err := sim.New(c.Now, sim.DemoOpts(1))
				if err != nil {
					t.Fatal(err)
				}
				h := openTestDaemon(t, k, leavendtest.JarConfig(dir), func(p *Parts) { p.Clock = c })
				h.pass(t, 3*time.Hour, nil)
				before := h.Vessels[0].Curve()
				faults, on := len(h.of(event.AlarmRaised)), h.Mat.State().OnSwitches
				skew.Store(int64(by))
				h.pass(t, 20*time.Second, nil)
				if n := h.Mat.State().OnSwitches; n > on+1 {
					t.Errorf("%d switch-ons in the twenty seconds of the step", n-on)
				}
				h.pass(t, 20*time.Minute, nil)
				after := h.Vessels[0].Curve()
				if n := len(h.of(event.AlarmRaised)) - faults; n != 0 {
					t.Errorf("%d faults after the step: %v", n, h.of(event.AlarmRaised))
				}
				if after.RiseMM < before.RiseMM || after.Stage != before.Stage {
					t.Errorf("%s with %.1f mm before the step, %s with %.1f mm after", before.Stage, before.RiseMM, after.Stage, after.RiseMM)
				}
				h.pass(t, 6*time.Hour, nil)
				if f, p := len(h.of(event.Fed)), len(h.of(event.Peak)); f != 1 || p != 1 {
					t.Errorf("%d feeds and %d tops, want one of each", f, p)
				}
				h.close(t)
			})
		})
	}
}

// brokenOutput fails whenever it is asked.
type brokenOutput struct{}

func (brokenOutput) On(context.Context, time.Duration) error { return errors.New("no such line") }
func (brokenOutput) Off(context.Context) error               { return errors.New("no such line") }
func (brokenOutput) String() string                          { return "broken" }

// TestOutputThatFails never calls a mat off that could not be switched.
func TestOutputThatFails(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), func(p *Parts) { p.Mat = brokenOutput{} })
		h.pass(t, 2*time.Minute, nil)
		if got := h.Mat.State().Output; got != control.OutputUnknown {
			t.Errorf("output %s, want unknown", got)
		}
		h.stop()
		if err := <-h.ended; err == nil || !strings.Contains(err.Error(), "pull its plug") {
			t.Errorf("at the end: %v, want a word on the plug", err)
		}
	})
}
