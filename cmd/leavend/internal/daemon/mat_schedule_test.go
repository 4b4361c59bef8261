package daemon

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/control"
)

// scheduledHouse opens a daemon whose config is a file, and starts nothing.
func scheduledHouse(t *testing.T) *Daemon {
	t.Helper()
	conf := leavendtest.MatConfigFile(t)
	d, err := New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{Agreed: true, Mat: &control.Dry{}, Note: filepath.Join(filepath.Dir(conf.File), "mat.json")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	})
	return d
}

func TestScheduleIsKeptAndFollowed(t *testing.T) {
	d := scheduledHouse(t)
	at := time.Date(2026, 11, 25, 23, 0, 0, 0, time.Local)
	want := []config.Slot{{From: 22 * 60, To: 6 * 60, SetpointC: 22}}
	if err := d.heat.SetSchedule(at, want); err != nil {
		t.Fatal(err)
	}
	if c := d.Mat.State().SetpointC; c != 22 {
		t.Errorf("at 23:00 the mat holds %.1f °C, want 22", c)
	}
	d.Mat.Tick(at.Add(8 * time.Hour))
	if c := d.Mat.State().SetpointC; c != 26 {
		t.Errorf("at 07:00 the mat holds %.1f °C, want 26", c)
	}
	again, err := config.Load(d.Conf.File)
	if err != nil {
		t.Fatal(err)
	}
	if len(again.Mat.Schedule) != 1 || again.Mat.Schedule[0].SetpointC != 22 || len(d.Mat.Slots()) != 1 {
		t.Errorf("the file has %+v, the mat %+v", again.Mat.Schedule, d.Mat.Slots())
	}
	if text, _ := os.ReadFile(d.Conf.File); !strings.Contains(string(text), "# in the jar") {
		t.Errorf("the baker's comment is gone:\n%s", text)
	}
}

// Slots that are wrong change neither the file nor the mat, and so does a
// file that cannot be read.
func TestScheduleThatCannotBe(t *testing.T) {
	d := scheduledHouse(t)
	at := time.Date(2026, 11, 25, 23, 0, 0, 0, time.Local)
	real := d.Conf.File
	before, _ := os.ReadFile(real)
	unchanged := func(why string, err error) {
		t.Helper()
		after, _ := os.ReadFile(d.Conf.File)
		if err == nil || string(after) != string(before) || len(d.Mat.Slots()) != 0 || d.Mat.State().SetpointC != 26 {
			t.Errorf("%s: error %v, slots %v, setpoint %.1f, file:\n%s", why, err, d.Mat.Slots(), d.Mat.State().SetpointC, after)
		}
	}
	unchanged("too warm", d.heat.SetSchedule(at, []config.Slot{{SetpointC: 34}}))
	d.Conf.File, real = d.Conf.File+"-none", d.Conf.File
	err := d.heat.SetSchedule(at, []config.Slot{{SetpointC: 22}})
	d.Conf.File = real
	unchanged("no file", err)
}
