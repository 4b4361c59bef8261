package daemon

import (
	"flag"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/web"
	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// What many tests of this folder begin with.

// TestMain lets many tests run at once: those that may wait for a daemon on real
// ports, and use little of the processor.
func TestMain(m *testing.M) {
	flag.Parse()
	if err := flag.Set("test.parallel", "12"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// invented is the invented kitchen of the demo, in the test's own time.
func invented(t testing.TB) *sim.Kitchen {
	t.Helper()
	k, err := sim.New(time.Now, sim.DemoOpts(1))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// openPast is a daemon without network that watches one jar.
func openPast(t testing.TB, text string) *Daemon {
	t.Helper()
	conf, err := config.Parse([]byte(text), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	return openPastOf(t, conf)
}

// openPastOf is openPast with a config that was read already.
func openPastOf(t testing.TB, conf *config.Config) *Daemon {
	t.Helper()
	d, err := New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{
		Mat: &control.Dry{}, Note: filepath.Join(t.TempDir(), "mat.json"),
		Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) { return nil, nil, nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// pageOf is what stands behind the page of a daemon.
func pageOf(d *Daemon) web.Backend {
	b, _ := d.backend()
	return b
}

// shown is a vessel as the page shows it.
func shown(d *Daemon, slug string) web.Vessel {
	for _, v := range pageOf(d).Watch.Now().Vessels {
		if v.ID == slug {
			return v
		}
	}
	return web.Vessel{}
}

// shownMat is the mat as the page shows it.
func shownMat(d *Daemon) web.Mat { return pageOf(d).Watch.Now().Mats[0] }

// simulated finds a sensor that is named after its vessel in a kitchen.
func simulated(k *sim.Kitchen) func(config.Sensor) (sensor.Source, sensor.Source, error) {
	return func(s config.Sensor) (distance, temperature sensor.Source, err error) {
		name := strings.TrimPrefix(s.Name, "over ")
		if distance, err = k.Ranger(name); err != nil {
			return nil, nil, err
		}
		temperature, err = k.Probe(name, sensor.AtVessel)
		return distance, temperature, err
	}
}
