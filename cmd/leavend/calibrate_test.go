package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

var updateCalibrate = flag.Bool("update-calibrate", false, "write the golden files of 'leavend calibrate' anew")

// baker types answers, and fills the vessel before each.
type baker struct {
	answers []answer
	surface *float64
	said    *strings.Builder // what is printed, and what is typed in between
}

// answer is what is typed, once the surface is at a distance.
type answer struct {
	text    string
	surface float64 // mm below the sensor; 0 leaves it
}

// Read types the next answer.
func (b *baker) Read(p []byte) (int, error) {
	if len(b.answers) == 0 {
		return 0, io.EOF
	}
	a := b.answers[0]
	b.answers = b.answers[1:]
	if a.surface > 0 {
		*b.surface = a.surface
	}
	b.said.WriteString(a.text + "\n")
	return copy(p, a.text+"\n"), nil
}

// sight is a ranger whose readings scatter evenly around the surface, by a
// pattern with a standard deviation of 1.4 mm and no correlation to speak of.
type sight struct {
	surface *float64
	n       int
	lost    func(n int) bool
}

func (s *sight) Read(context.Context) (sensor.Reading, error) {
	s.n++
	if s.lost != nil && s.lost(s.n) {
		return sensor.Reading{}, errors.New("no acknowledge")
	}
	scatter := []float64{0, 2, -1, 1, -2, 0, -2, 1, 2, -1}
	return sensor.Reading{Quantity: sensor.Distance, Value: *s.surface + scatter[s.n%len(scatter)]}, nil
}

// kitchenTable is the invented vessel of these tests.
const kitchenTable = `# my kitchen
[[sensor]]
name = "eye" # over the jar
chip = "kitchen"

[[vessel]]
name = "Bramble"
distance = "eye"
#floor_mm = 0.0
`

// calibrateWith runs one conversation and returns what was said, the config
// after it, and the error.
func calibrateWith(t *testing.T, text string, f calibrateFlags, lost func(int) bool, answers ...answer) (said, after string, err error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "leavend.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	surface := 215.0
	bench := &workbench{clock: newClock(time.Now(), 1), kitchen: func(config.Sensor) (sensor.Source, sensor.Source, error) {
		return &sight{surface: &surface, lost: lost}, &script{values: []float64{24}}, nil
	}}
	var out strings.Builder
	err = calibrate(t.Context(), bench, conf, "bramble", f, &baker{answers, &surface, &out}, &out)
	now, readErr := os.ReadFile(file)
	if readErr != nil {
		t.Fatal(readErr)
	}
	return strings.ReplaceAll(out.String(), file, "leavend.toml"), string(now), err
}

// golden compares a conversation with the one that was read aloud.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *updateCalibrate {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(got, string(want)); d != "" {
		t.Errorf("the conversation changed (-got +want):\n%s", d)
	}
}

// A straight jar of 80 mm, filled to 60 mm: its floor is 215 mm below.
func TestCalibrateStraight(t *testing.T) {
	said, after, err := calibrateWith(t, kitchenTable, calibrateFlags{}, nil,
		answer{"", 215}, answer{"60 spoons", 0}, answer{"6cm", 155}, answer{"", 0}, answer{"80", 0}, answer{"", 0}, answer{"yes", 0})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "calibrate_straight.txt", said)
	c := parsed(t, after)
	v := c.Vessels[0]
	if v.FloorMM != 215 || v.BottomMM != 80 || v.TopMM != 0 || !strings.HasPrefix(after, "# my kitchen\n") || !strings.Contains(after, "# over the jar") {
		t.Errorf("the config is now:\n%s", after)
	}
}

// A tapered jar of 70 to 90 mm over 150 mm holds π/12·150·(70²+70·90+90²) mm³,
// the volume of a cone cut off, which is 758 ml.
func TestCalibrateTapered(t *testing.T) {
	said, after, err := calibrateWith(t, kitchenTable, calibrateFlags{}, nil,
		answer{"", 215}, answer{"", 0}, answer{"70", 0}, answer{"90", 0}, answer{"150", 0}, answer{"yes", 0})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "calibrate_tapered.txt", said)
	if !strings.Contains(said, "it holds 758 ml") {
		t.Errorf("the volume is not told")
	}
	v := parsed(t, after).Vessels[0]
	if v.FloorMM != 215 || v.BottomMM != 70 || v.TopMM != 90 || v.HeightMM != 150 {
		t.Errorf("the config is now:\n%s", after)
	}
}

// A level that does not fit the floor is told.
func TestCalibrateTellsWhatDoesNotFit(t *testing.T) {
	said, _, err := calibrateWith(t, kitchenTable, calibrateFlags{yes: true}, nil,
		answer{"", 215}, answer{"60", 175}, answer{"", 0}, answer{"", 0})
	if err != nil || !strings.Contains(said, "Look again: the distance changes by 0.67 mm for each mm of height") || !strings.Contains(said, "10.0 mm off the others") {
		t.Errorf("got %v and\n%s", err, said)
	}
}

// A script says what is under the sensor; nobody is asked.
func TestCalibrateByScript(t *testing.T) {
	_, after, err := calibrateWith(t, kitchenTable, calibrateFlags{level: "60", yes: true, boreBottom: "80"}, nil)
	if v := parsed(t, after).Vessels[0]; err != nil || v.FloorMM != 275 || v.BottomMM != 80 {
		t.Errorf("got %v and\n%s", err, after)
	}
	for name, f := range map[string]calibrateFlags{
		"a level that is none":      {level: "high"},
		"a taper without a height":  {empty: true, boreBottom: "70", boreTop: "90"},
		"crosstalk of another chip": {empty: true, card: "100"},
	} {
		_, after, err := calibrateWith(t, kitchenTable, f, nil)
		var coded *exitError
		if !errors.As(err, &coded) || coded.code != exitUsage || after != kitchenTable {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// Without a yes nothing is written, and without a sensor nothing is found.
func TestCalibrateLeavesTheConfigAlone(t *testing.T) {
	dead := func(int) bool { return true }
	shaky := func(n int) bool { return n%4 == 0 }
	for _, tt := range []struct {
		name    string
		f       calibrateFlags
		lost    func(int) bool
		answers []answer
		want    string
	}{
		{"no", calibrateFlags{empty: true}, nil, []answer{{"no", 0}}, "nothing was written"},
		{"nobody there", calibrateFlags{empty: true}, nil, nil, "there is nobody to ask"},
		{"nobody there to empty it", calibrateFlags{}, nil, nil, "there is nobody to ask"},
		{"a dead sensor", calibrateFlags{empty: true, yes: true}, dead, nil, "sensor eye: only 0 of 5 readings came: no acknowledge"},
		{"a shaky one, and no", calibrateFlags{empty: true}, shaky, []answer{{"y", 0}}, "nothing was written"},
	} {
		_, after, err := calibrateWith(t, kitchenTable, tt.f, tt.lost, tt.answers...)
		if err == nil || !strings.Contains(err.Error(), tt.want) || after != kitchenTable {
			t.Errorf("%s: got %v, want %q", tt.name, err, tt.want)
		}
	}
}

// What was right already is not written again.
func TestCalibrateTwice(t *testing.T) {
	_, once, err := calibrateWith(t, kitchenTable, calibrateFlags{empty: true, yes: true}, nil)
	if err != nil {
		t.Fatal(err)
	}
	said, twice, err := calibrateWith(t, once, calibrateFlags{empty: true}, nil)
	if err != nil || twice != once || !strings.Contains(said, "nothing is to be written") {
		t.Errorf("got %v and\n%s", err, said)
	}
}

// A hand in some readings does not move the level.
func TestCalibrateLeavesStraysOut(t *testing.T) {
	got := withoutStrays([]float64{215, 216, 40, 214, 215, 217, 38, 215})
	if d := cmp.Diff(got, []float64{215, 216, 214, 215, 217, 215}); d != "" {
		t.Error(d)
	}
	if got := withoutStrays([]float64{215, 215, 215, 216}); len(got) != 4 {
		t.Errorf("a steady ranger's last step was left out: %v", got)
	}
}

// The glass makes a card at 100 mm look 90 mm away. By ST's method its light
// is a tenth of all, shared among the cells that count: 10 million counts a
// second on the 16 that the emulator tells of are 62,500 a second and cell.
func TestCalibrateCoverGlass(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 90, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		file := filepath.Join(t.TempDir(), "leavend.toml")
		text := strings.Replace(kitchenTable, `"kitchen"`, `"vl53l1x"`, 1)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		conf, err := config.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		bench := softBench(bustest.New("I2C1", chip), nil)
		bench.prepare(conf.Sensors)
		if err := calibrate(t.Context(), bench, conf, "Bramble", calibrateFlags{empty: true, card: "100", yes: true, boreBottom: "8cm"}, strings.NewReader(""), &out); err != nil {
			t.Fatal(err)
		}
		golden(t, "calibrate_glass.txt", strings.ReplaceAll(out.String(), file, "leavend.toml"))
		after, err := config.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		if got := after.Sensors[0].CrosstalkKcps; got < 62.4 || got > 62.6 {
			t.Errorf("got %v thousand counts, want 62.5", got)
		}
	})
}

func TestCalibrateUnknownVessel(t *testing.T) {
	c := &calibration{conf: parsed(t, kitchenTable)}
	if err := c.find("Pilot"); err == nil || !strings.Contains(err.Error(), `no vessel "Pilot" in leavend.toml; it has: ["Bramble"]`) {
		t.Errorf("got %v", err)
	}
}

func TestParseMM(t *testing.T) {
	for text, want := range map[string]float64{"60": 60, "6cm": 60, " 6 cm ": 60, "2.5in": 63.5, `2.5"`: 63.5, "60,5 mm": 60.5} {
		if got, err := parseMM("it", text, 1, 600); err != nil || got != want {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "high", "0", "601", "NaN", "inf", "-5", "5 miles"} {
		if got, err := parseMM("it", text, 1, 600); err == nil {
			t.Errorf("%q: accepted as %v", text, got)
		}
	}
}
