package daemon

import (
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/control"

	"github.com/google/go-cmp/cmp"
)

// scheduledDaemon opens a daemon whose config is a file, and starts nothing.
func scheduledDaemon(t *testing.T) *Daemon {
	t.Helper()
	return openScheduled(t, leavendtest.MatConfigFile(t))
}

func openScheduled(t *testing.T, conf *config.Config) *Daemon {
	t.Helper()
	d, err := New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{Agreed: true, Mat: &control.Dry{}, Note: filepath.Join(filepath.Dir(conf.File), "mat.json")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

// TestScheduleIsKeptAndFollowed sets a schedule that holds, also after a restart,
// until that of the file shall hold again; the file stays as it is.
func TestScheduleIsKeptAndFollowed(t *testing.T) {
	d := scheduledDaemon(t)
	before, _ := os.ReadFile(d.Conf.File)
	at := time.Date(2026, 11, 25, 23, 0, 0, 0, time.Local)
	night := []config.Slot{{From: 22 * 60, To: 6 * 60, SetpointC: 22}}
	if err := d.heat.SetSchedule(t.Context(), night); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		after time.Duration
		wantC float64
	}{{0, 22}, {8 * time.Hour, 26}} {
		d.Mat.Tick(at.Add(tt.after))
		if c := d.Mat.State().SetpointC; c != tt.wantC {
			t.Errorf("%v later the mat holds %.1f °C, want %.1f", tt.after, c, tt.wantC)
		}
	}
	conf := d.Conf
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	d = openScheduled(t, conf)
	got, own := d.heat.Schedule()
	if diff := cmp.Diff(night, got); diff != "" || !own {
		t.Errorf("after a restart, own %v; (-want +got):\n%s", own, diff)
	}
	if d.Mat.Tick(at.Add(24 * time.Hour)); d.Mat.State().SetpointC != 22 {
		t.Errorf("after a restart the mat holds %.1f °C, want 22", d.Mat.State().SetpointC)
	}
	if err := d.heat.SetSchedule(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if got, own := d.heat.Schedule(); own || len(got) != 0 || d.Mat.State().SetpointC != 26 {
		t.Errorf("the file's holds again: own %v, %v, %.1f °C", own, got, d.Mat.State().SetpointC)
	}
	if after, _ := os.ReadFile(d.Conf.File); string(after) != string(before) {
		t.Errorf("the file is now\n%s", after)
	}
}

// Slots beyond the limits of the config change nothing. Those that were set
// before the limits came to be closer no longer hold.
func TestScheduleThatCannotBe(t *testing.T) {
	d := scheduledDaemon(t)
	for _, c := range []float64{34, 12, math.NaN()} {
		err := d.heat.SetSchedule(t.Context(), []config.Slot{{SetpointC: c}})
		if slots, own := d.heat.Schedule(); err == nil || own || len(slots) != 0 || d.Mat.State().SetpointC != 26 {
			t.Errorf("%g °C: error %v, own %v, slots %v, setpoint %.1f", c, err, own, slots, d.Mat.State().SetpointC)
		}
	}
	if err := d.heat.SetSchedule(t.Context(), []config.Slot{{SetpointC: 29}}); err != nil {
		t.Fatal(err)
	}
	conf := *d.Conf
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	conf.Mat.SetpointMaxC = 28
	d = openScheduled(t, &conf)
	if _, own := d.heat.Schedule(); own || d.Mat.State().SetpointC != 26 {
		t.Errorf("with a lower limit: own %v, %.1f °C", own, d.Mat.State().SetpointC)
	}
}
