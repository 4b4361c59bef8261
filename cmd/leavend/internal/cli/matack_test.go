package cli

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"
)

// ackConfig is a kitchen with a mat whose probe is simulated by the test.
func ackConfig(t *testing.T) *config.Config {
	t.Helper()
	return configtest.Parse(t, fmt.Sprintf("data_dir = %q\n[[sensor]]\nname = \"probe\"\nchip = \"ds18b20\"\n[mat]\noutput = \"gpio\"\nline = 17\nprobe = \"probe\"\n", t.TempDir()))
}

// A fault that is kept is cleared when its probe has cooled, and only then:
// not while it is hot, and not when that is unknown.
func TestJudge(t *testing.T) {
	conf := ackConfig(t)
	says := func(c float64, err error) hardware.Opener {
		return func(s config.Sensor) ([]hardware.Channel, error) {
			from := source(func(context.Context) (sensor.Reading, error) {
				return sensor.Reading{Quantity: sensor.Temperature, Value: c, At: time.Now()}, err
			})
			return []hardware.Channel{{Sensor: s, Quantity: sensor.Temperature, Source: from}}, nil
		}
	}
	tests := []struct {
		name    string
		latched control.FaultKind
		open    hardware.Opener
		wants   string // of the error; "" for none
	}{
		{"cutoff, cooled", control.FaultVesselCutoff, says(25, nil), ""},
		{"cutoff, still hot", control.FaultVesselCutoff, says(34, nil), "still reads close to its cutoff"},
		{"cutoff, silent probe", control.FaultVesselCutoff, says(0, errors.New("no answer")), "whether it has cooled cannot be told: no answer"},
		{"stuck on: nothing to measure", control.FaultStuckOn, says(0, errors.New("no answer")), ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			kept := control.Snapshot{Latched: []control.FaultKind{tt.latched}, RunS: 600}
			got, err := judge(t.Context(), conf, kept, tt.open)
			if tt.wants == "" && (err != nil || len(got.Latched) != 0 || got.RunS != 600) {
				t.Errorf("got %+v, %v", got, err)
			}
			if tt.wants != "" && (err == nil || !strings.Contains(err.Error(), tt.wants) || len(got.Latched) != 1) {
				t.Errorf("got %+v, %v, want %q", got, err, tt.wants)
			}
		})
	}
}

type source func(context.Context) (sensor.Reading, error)

func (s source) Read(ctx context.Context) (sensor.Reading, error) { return s(ctx) }

// Without a daemon the store is changed, and says so at the next start.
func TestAcknowledgeKept(t *testing.T) {
	conf := ackConfig(t)
	ctx := t.Context()
	if said, err := acknowledge(ctx, conf, nil); err != nil || said.Key != "cli.acknowledge.never" {
		t.Errorf("%q, %v", said, err)
	}
	keep := func(m heating.Memory) heating.Memory {
		s, _, err := store.Open(ctx, conf.Store.File, store.Opts{})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if m.Setpoint != 0 {
			if err := s.States.SetState(ctx, event.SubjectMat, m); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := s.States.State(ctx, event.SubjectMat, &m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	keep(heating.Memory{Setpoint: 24, Mode: control.Hold, Kept: control.Snapshot{Latched: []control.FaultKind{control.FaultStuckOn}}})
	said, err := acknowledge(ctx, conf, []string{filepath.Join(t.TempDir(), "none.sock")})
	if err != nil || !strings.Contains(said.In(text.Reader{}), "for the next start") {
		t.Fatalf("%q, %v", said, err)
	}
	if m := keep(heating.Memory{}); len(m.Kept.Latched) != 0 || m.Setpoint != 24 {
		t.Errorf("kept is %+v", m)
	}
	if said, err := acknowledge(ctx, conf, nil); err != nil || said.Key != "cli.acknowledge.nothing" {
		t.Errorf("again: %q, %v", said, err)
	}
}

// A daemon that runs is asked, and its refusal is told.
func TestAcknowledgeRunning(t *testing.T) {
	d := scheduledDaemon(t)
	// A folder whose sockets have longer paths than the kernel takes.
	dir := filepath.Join(t.TempDir(), strings.Repeat("bread", 30))
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	d.Local = filepath.Join(dir, daemon.LocalName)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- d.ServeLocal(ctx) }()
	defer func() { stop(); <-done }()
	for range 200 {
		if _, err := os.Stat(d.Local); err == nil {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	hot := func(c float64) { now := d.Clock.Now(); d.Mat.Temperature(now, "probe", c, now) }
	hot(36)
	if n := len(d.Mat.Snapshot().Latched); n != 1 {
		t.Fatalf("%d faults latched at 36 °C", n)
	}
	if _, err := acknowledge(ctx, d.Conf, []string{d.Local}); err == nil || !strings.Contains(err.Error(), "still reads close to its cutoff") {
		t.Errorf("at 36 °C: %v", err)
	}
	for c := 35.5; c > 24; c -= 0.9 {
		hot(c)
	}
	said, err := acknowledge(ctx, d.Conf, []string{filepath.Join(dir, "none.sock"), d.Local})
	if err != nil || said.Key != "cli.acknowledge.done" || len(d.Mat.Snapshot().Latched) != 0 {
		t.Errorf("%q, %v, still %v", said, err, d.Mat.Snapshot().Latched)
	}
	var m heating.Memory
	if _, err := d.Store.States.State(ctx, event.SubjectMat, &m); err != nil || len(m.Kept.Latched) != 0 {
		t.Errorf("kept is %+v, %v", m, err)
	}
}

// scheduledDaemon opens a daemon whose config is a file, and starts nothing.
func scheduledDaemon(t *testing.T) *daemon.Daemon {
	t.Helper()
	conf := leavendtest.MatConfigFile(t)
	d, err := daemon.New(t.Context(), conf, slog.New(slog.DiscardHandler), daemon.Parts{Agreed: true, Mat: &control.Dry{}, Note: filepath.Join(filepath.Dir(conf.File), "mat.json")})
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
