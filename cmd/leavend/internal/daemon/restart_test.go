package daemon

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim/simtest"
)

// Probes on two buses speak at the same moment. Run it with -race.
func TestProbesOfTwoBusesAtOnce(t *testing.T) {
	conf := configtest.Parse(t, `[[sensor]]
name = "crumb"
chip = "ds18b20"
id = "28-0000000000a1"
[[sensor]]
name = "surface"
chip = "sht4x"
place = "mat"
[mat]
output = "gpio"
line = 17
probe = "crumb"
mat_probe = "surface"
`+leavendtest.NoNetwork)
	w, err := heating.NewMat(conf, &control.Dry{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var both sync.WaitGroup
	for name := range w.Places {
		both.Go(func() {
			for range 1000 {
				now := time.Now()
				w.Temperature(now, name, 20, now)
			}
		})
	}
	both.Wait()
	if s := w.State(); !s.VesselOK || !s.MatOK {
		t.Errorf("not both were heard: %+v", s)
	}
}

// What was known of the mat lies in a history that cannot be opened: it is
// not known whether a fault kept it off, or the baker. It stays off until told.
func TestMatStaysOffWithoutItsMemory(t *testing.T) {
	simtest.NotUnderRace(t)
	for name, spoil := range map[string]func(t *testing.T, file string){
		"the history cannot be opened": func(t *testing.T, file string) {
			for _, f := range []string{file, file + "-wal", file + "-shm"} {
				_ = os.Remove(f)
			}
			if err := os.Mkdir(file, 0o755); err != nil {
				t.Fatal(err)
			}
		},
		"the history is no database": func(t *testing.T, file string) {
			for _, f := range []string{file + "-wal", file + "-shm"} {
				_ = os.Remove(f)
			}
			if err := os.WriteFile(file, make([]byte, 1<<16), 0o600); err != nil {
				t.Fatal(err)
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				k := invented(t)
				h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
				h.pass(t, 10*time.Minute, nil)
				if !drawing(t, k) {
					t.Fatal("the mat does not heat before")
				}
				if err := h.Mat.SetMode(time.Now(), control.Off); err != nil {
					t.Fatal(err)
				}
				h.pass(t, time.Minute, nil)
				h.close(t)
				spoil(t, filepath.Join(dir, "leavend.db"))
				again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
				again.pass(t, 20*time.Minute, func() {
					if drawing(t, k) {
						t.Error("the mat heats, though it is not known that it may")
					}
				})
				if len(again.of(event.AlarmRaised)) == 0 {
					t.Error("nothing was told")
				}
				again.close(t)
			})
		})
	}
}

// A setpoint that came by MQTT is what the baker set, as one from the page is.
func TestSetpointByTopicIsKept(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		if err := h.link.execute(mqtt.Command{Kind: mqtt.CommandSetpoint, Subject: event.SubjectMat, Value: 27}); err != nil {
			t.Fatal(err)
		}
		if m := shownMat(h.Daemon); m.SetpointC != 27 {
			t.Errorf("the page shows %v, not what was asked for", m.SetpointC)
		}
		h.pass(t, time.Minute, nil)
		h.close(t)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		if c := again.Mat.State().SetpointC; c != 27 {
			t.Errorf("after a restart the setpoint is %v, want 27", c)
		}
		again.close(t)
	})
}

// A feed is taken back while the ranger goes on measuring: the curve that is
// built again misses nothing of what was before.
func TestUnfedWhileMeasuring(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		h.pass(t, 4*time.Hour, nil)
		v := h.Vessels[0]
		before := v.Curve()
		fed, err := h.Fed(context.Background(), v.Conf.Slug, store.Feed{})
		if err != nil {
			t.Fatal(err)
		}
		stop := make(chan struct{})
		var measuring sync.WaitGroup
		measuring.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					v.Distance(time.Now(), v.Conf.FloorMM-before.HeightMM, "0 valid")
				}
			}
		})
		if err := h.Unfed(context.Background(), v.Conf.Slug, fed.ID); err != nil {
			t.Fatal(err)
		}
		close(stop)
		measuring.Wait()
		after := v.Curve()
		if after.FedAt.Sub(before.FedAt).Abs() > time.Second || after.Stage != before.Stage || after.RiseMM < before.RiseMM-3 {
			t.Errorf("before %+v\nafter  %+v", before, after)
		}
		h.close(t)
	})
}

// A feed that was an hour ago counts from then, at once and after a restart.
func TestFeedNotedLate(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		h.pass(t, 4*time.Hour, nil)
		v := h.Vessels[0]
		at := time.Now().Add(-time.Hour).Truncate(time.Second)
		if _, err := h.Fed(context.Background(), v.Conf.Slug, store.Feed{At: at}); err != nil {
			t.Fatal(err)
		}
		h.pass(t, time.Minute, nil)
		now := v.Curve()
		if now.FedAt.Sub(at).Abs() > time.Minute {
			t.Errorf("fed at %v, said to be at %v", at, now.FedAt)
		}
		h.close(t)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		again.pass(t, time.Minute, nil)
		if after := again.Vessels[0].Curve(); after.FedAt.Sub(at).Abs() > time.Minute || after.RiseMM < now.RiseMM-2 || after.RiseMM > now.RiseMM+2 {
			t.Errorf("before the restart %+v\nafter %+v", now, after)
		}
		again.close(t)
	})
}

// Sensors that are set up before the first vessel are read all the same.
func TestSensorsWithoutVessel(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		h := openTestDaemon(t, invented(t), fmt.Sprintf("data_dir = %q\n[[sensor]]\nname = \"eye\"\nchip = \"kitchen\"\n", dir)+leavendtest.NoNetwork, nil)
		h.pass(t, time.Minute, nil)
		if got, ok := h.Health.Of(hardware.ChannelKey{Sensor: "eye", Quantity: sensor.Distance}); !ok || !got.Has {
			t.Errorf("it was not read: %+v", got)
		}
		h.close(t)
	})
}

// lamp is an output that shows what was commanded last.
type lamp struct {
	control.Dry
	on bool
}

func (l *lamp) On(context.Context, time.Duration) error { l.on = true; return nil }
func (l *lamp) Off(context.Context) error               { l.on = false; return nil }

// A number that merely stays where it was, as on a topic whose device is gone,
// is no reading: the mat goes off by it as by silence.
func TestSameReadingGrowsStale(t *testing.T) {
	out := &lamp{}
	w, err := heating.NewMat(configtest.Parse(t, "[[sensor]]\nname = \"crumb\"\nchip = \"ds18b20\"\n[mat]\noutput = \"gpio\"\nline = 17\nprobe = \"crumb\"\nanticipate = false\n"+leavendtest.NoNetwork), out, nil)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	if err := w.SetMode(now, control.Hold); err != nil {
		t.Fatal(err)
	}
	for range 30 {
		now = now.Add(10 * time.Second)
		w.Temperature(now, "crumb", 20, now)
		w.Tick(now)
	}
	if !out.on {
		t.Fatal("at 20 °C it does not heat")
	}
	last := now
	for range 15 {
		now = now.Add(10 * time.Second)
		w.Temperature(now, "crumb", 20, last)
		w.Tick(now)
	}
	if out.on {
		t.Error("it heats on after two and a half minutes of one and the same reading")
	}
}

// Whichever goroutine of the daemon panics, the mat is off before the panic goes
// on.
func TestPanicAnywhereSwitchesOff(t *testing.T) {
	out := &lamp{}
	mat, err := control.New(out, control.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	_ = out.On(t.Context(), time.Minute)
	defer func() {
		if recover() == nil {
			t.Error("the panic was swallowed")
		}
		if out.on {
			t.Error("the mat is on after a panic")
		}
	}()
	(&taskGroup{mat: mat}).work(t.Context(), "page", func(context.Context) error { panic("a nil map") })
}

// A fault that latched, and an off, are on the disk within seconds: a kill may
// come at any time.
func TestMatIsKeptAtOnce(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		h := openTestDaemon(t, invented(t), leavendtest.JarConfig(dir), nil)
		h.Mat.Restore(control.Snapshot{Latched: []control.FaultKind{control.FaultStuckOn}}, 0)
		if err := h.Mat.SetMode(time.Now(), control.Off); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 10*time.Second, nil)
		var kept heating.Memory
		if _, err := h.Store.States.State(t.Context(), event.SubjectMat, &kept); err != nil || kept.Mode != control.Off || len(kept.Kept.Latched) != 1 {
			t.Errorf("the store knows %+v, %v", kept, err)
		}
		h.close(t)
	})
}
