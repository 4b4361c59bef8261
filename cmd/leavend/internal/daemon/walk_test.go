package daemon

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/setup"
	"leavend/cmd/leavend/internal/web"
	"leavend/sensor"
)

// bareBus has a VL53L0X at its power-on address and nothing else.
type bareBus struct{}

func (bareBus) Tx(a uint16, w, r []byte) error {
	if a != 0x29 {
		return errNoAnswer
	}
	if string(w) == "\xc0" { // VL53L0X data sheet, table "Reference registers"
		r[0] = 0xee
	}
	return nil
}

// steadySource always says the same, but for one reading.
type steadySource struct {
	of    sensor.Quantity
	value float64
	n     int
}

func (s *steadySource) Read(context.Context) (sensor.Reading, error) {
	s.n++
	r := sensor.Reading{Quantity: s.of, Value: s.value, At: time.Now()}
	if s.n == 3 {
		r.Value++
	}
	return r, nil
}

func (s *steadySource) String() string { return "steady" }

// walkOf finds the daemon behind a walk under test.
var walkOf = map[*setup.Setup]*Daemon{}

// newTestWalk returns the walk of a daemon with an empty config on a board
// with one ranger and one thermometer.
func newTestWalk(t *testing.T, text string) (w *setup.Setup, file string, restarted *[]byte) {
	t.Helper()
	dir := t.TempDir()
	file = filepath.Join(dir, "leavend.toml")
	text = "data_dir = \"" + dir + "\"\n" + text + leavendtest.NoNetwork
	probe := filepath.Join(dir, "sys/bus/w1/devices/28-0316a279d5ff")
	for _, err := range []error{
		os.WriteFile(file, []byte(text), 0o600), os.MkdirAll(filepath.Join(dir, "dev"), 0o755), os.WriteFile(filepath.Join(dir, "dev/i2c-1"), nil, 0o600),
		os.MkdirAll(probe, 0o755), os.MkdirAll(filepath.Join(dir, "sys/bus/w1/devices/w1_bus_master1"), 0o755),
		os.WriteFile(filepath.Join(probe, "w1_slave"), nil, 0o600),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(t.Context(), conf, slog.New(slog.NewTextHandler(io.Discard, nil)), Parts{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	restarted = new([]byte)
	w = setup.New(d.Monitor, d.heat.Accept, func(before []byte) { *restarted = before })
	walkOf[w] = d
	w.Survey.Board.Root = dir
	w.Survey.I2c = func(int) (check.Wires, func() error, error) { return bareBus{}, func() error { return nil }, nil }
	w.Survey.Pause = func(time.Duration) {}
	w.Open = func(s config.Sensor) ([]hardware.Channel, func() error, error) {
		q, value := sensor.Distance, 171.4
		if s.Chip == config.DS18B20 {
			q, value = sensor.Temperature, 23.5
		}
		return []hardware.Channel{{Sensor: s, Quantity: q, Source: &steadySource{of: q, value: value}}}, func() error { return nil }, nil
	}
	return w, file, restarted
}

// TestWalk goes the whole way from an empty config to a watched jar on a mat.
func TestWalk(t *testing.T) {
	w, file, restarted := newTestWalk(t, "")
	theirs := filepath.Join(filepath.Dir(file), "phone-url") // of a recipient with a name of its own
	configtest.WriteFile(t, theirs, "ntfy://host.example/another\n")
	ctx := t.Context()
	found, err := w.Found(ctx, "en")
	if err != nil {
		t.Fatal(err)
	}
	if len(found.Sensors) != 2 || found.Sensors[0].Key != "i2c-1-0x29" || found.Sensors[1].Key != "28-0316a279d5ff" || found.Blocked != "" {
		t.Fatalf("found %+v", found)
	}
	depth, err := w.Measure(ctx, "i2c-1-0x29")
	if err != nil || depth.Value != 171.4 || depth.Taken != setup.WalkReads || depth.Unit != "mm" {
		t.Fatalf("measured %+v, %v", depth, err)
	}
	a := web.WalkAnswers{
		Name: "Bramble", Kind: web.Jar, Distance: "i2c-1-0x29", Temperature: "28-0316a279d5ff", FloorMM: depth.Value, HeightMM: 150, BoreMM: 80,
		Mat: "gpio", Line: 17, Cautions: true, Tell: "ntfy://host.example/a-secret-topic", US: true,
	}
	draft, err := w.Draft(ctx, "en", a)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(draft.Difference, "a-secret-topic") {
		t.Errorf("the difference shows the secret:\n%s", draft.Difference)
	}
	for _, line := range []string{"+units = \"us\"", "+[[sensor]]", "+name = \"eye\"", "+chip = \"vl53l0x\"", "+id = \"28-0316a279d5ff\"", "+[[vessel]]", "+floor_mm = 171.4", "+line = 17", "+url_file = \"phone-url-2\""} {
		if !strings.Contains(draft.Difference, line+"\n") {
			t.Errorf("%q is missing in\n%s", line, draft.Difference)
		}
	}
	before, _ := os.ReadFile(file)
	if err := w.Keep(ctx, a); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(*restarted, before) {
		t.Errorf("restarted with %q as the former config", *restarted)
	}
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	v, m := conf.Vessels[0], conf.Mat
	if v.Name != "Bramble" || v.Distance != "eye" || v.Temperature != "probe" || v.FloorMM != 171.4 || v.HeightMM != 150 || v.BottomMM != 80 {
		t.Errorf("vessel %+v", v)
	}
	if m.Output != config.GPIO || m.Line.Number != 17 || m.Vessel != "Bramble" || len(conf.Notify) != 1 {
		t.Errorf("mat %+v, notify %+v", m, conf.Notify)
	}
	if info, err := os.Stat(theirs + "-2"); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the secret's file: %v, %v", info, err)
	}
	if text, err := os.ReadFile(theirs); err != nil || string(text) != "ntfy://host.example/another\n" {
		t.Errorf("another recipient's address became %q, %v", text, err)
	}
	if walkOf[w].heat.Memory().Accepted.IsZero() {
		t.Error("that the cautions were accepted is forgotten")
	}
	// What is set up is not offered again.
	if found, err = w.Found(ctx, "en"); err != nil || len(found.Sensors) != 0 || !found.HasMat {
		t.Errorf("afterwards %+v, %v", found, err)
	}
}

// TestWalkPlug sets a plug up.
func TestWalkPlug(t *testing.T) {
	w, file, _ := newTestWalk(t, "")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte("[mqtt]\non = false\n"), nil, 1)
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	a := web.WalkAnswers{Name: "Pilot", Kind: web.Bowl, Distance: "i2c-1-0x29", Temperature: "28-0316a279d5ff", Mat: "plug", Recipe: "tasmota", Topic: "mat-plug", Cautions: true}
	if err := w.Keep(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	if conf.Mat.Output != config.Plug || conf.Mat.Plug.Recipe != config.Tasmota || conf.Vessels[0].Kind != config.Bowl {
		t.Errorf("mat %+v, vessel %+v", conf.Mat, conf.Vessels[0])
	}
}

// TestWalkRefuses writes nothing when an answer cannot be right.
func TestWalkRefuses(t *testing.T) {
	w, file, restarted := newTestWalk(t, "")
	good := web.WalkAnswers{Name: "Bramble", Kind: web.Jar, Distance: "i2c-1-0x29", Mat: "none"}
	before, _ := os.ReadFile(file)
	for name, change := range map[string]func(*web.WalkAnswers){
		"a sensor that is not there":    func(a *web.WalkAnswers) { a.Distance = "i2c-1-0x30" },
		"a thermometer as ranger":       func(a *web.WalkAnswers) { a.Distance = "28-0316a279d5ff" },
		"a mat without a thermometer":   func(a *web.WalkAnswers) { a.Mat, a.Cautions = "gpio", true },
		"a mat without the cautions":    func(a *web.WalkAnswers) { a.Mat, a.Temperature = "gpio", "28-0316a279d5ff" },
		"an address of an unknown kind": func(a *web.WalkAnswers) { a.Tell = "pigeon://loft" },
		"a plug of an unknown kind": func(a *web.WalkAnswers) {
			a.Mat, a.Temperature, a.Cautions, a.Recipe = "plug", "28-0316a279d5ff", true, "magic"
		},
		"a floor out of reach":            func(a *web.WalkAnswers) { a.FloorMM = 1e6 },
		"a name that would break out":     func(a *web.WalkAnswers) { a.Name = "x\"\n[mat]\noutput = \"gpio" },
		"a name of nothing but a comment": func(a *web.WalkAnswers) { a.Name = "###" },
	} {
		a := good
		change(&a)
		err := w.Keep(t.Context(), a)
		var refusal *failure.Refusal
		if !errors.As(err, &refusal) {
			t.Errorf("%s: %v", name, err)
		}
		if after, _ := os.ReadFile(file); !bytes.Equal(before, after) || *restarted != nil {
			t.Fatalf("%s: the config was written:\n%s", name, after)
		}
	}
}

var errNoAnswer = errors.New("no acknowledge")
