package calibrate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/noise"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/vl6180x/vl6180xtest"
)

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
func calibrateWith(t *testing.T, text string, f Opts, lost func(int) bool, answers ...answer) (said, after string, err error) {
	t.Helper()
	file := configtest.Write(t, text)
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	surface := 215.0
	bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1), Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) {
		return &sight{surface: &surface, lost: lost}, &scripted{values: []float64{24}}, nil
	}}
	var out strings.Builder
	err = Run(t.Context(), bench, conf, "bramble", f, &baker{answers, &surface, &out}, &out)
	now, readErr := os.ReadFile(file)
	if readErr != nil {
		t.Fatal(readErr)
	}
	return strings.ReplaceAll(out.String(), file, "leavend.toml"), string(now), err
}

// A straight jar of 80 mm, filled to 60 mm: its floor is 215 mm below.
func TestCalibrateStraight(t *testing.T) {
	said, after, err := calibrateWith(t, kitchenTable, Opts{}, nil,
		answer{"", 215}, answer{"60 spoons", 0}, answer{"6cm", 155}, answer{"", 0}, answer{"80", 0}, answer{"", 0}, answer{"yes", 0})
	if err != nil {
		t.Fatal(err)
	}
	golden.Compare(t, filepath.Join("testdata", "straight.txt"), said)
	c := configtest.Parse(t, after)
	v := c.Vessels[0]
	if v.FloorMM != 215 || v.BottomMM != 80 || v.TopMM != 0 || !strings.HasPrefix(after, "# my kitchen\n") || !strings.Contains(after, "# over the jar") {
		t.Errorf("the config is now:\n%s", after)
	}
}

// A tapered jar of 70 to 90 mm over 150 mm holds π/12·150·(70²+70·90+90²) mm³,
// the volume of a cone cut off, which is 758 ml.
func TestCalibrateTapered(t *testing.T) {
	said, after, err := calibrateWith(t, kitchenTable, Opts{}, nil,
		answer{"", 215}, answer{"", 0}, answer{"70", 0}, answer{"90", 0}, answer{"150", 0}, answer{"yes", 0})
	if err != nil {
		t.Fatal(err)
	}
	golden.Compare(t, filepath.Join("testdata", "tapered.txt"), said)
	if !strings.Contains(said, "it holds 758 ml") {
		t.Errorf("the volume is not told")
	}
	v := configtest.Parse(t, after).Vessels[0]
	if v.FloorMM != 215 || v.BottomMM != 70 || v.TopMM != 90 || v.HeightMM != 150 {
		t.Errorf("the config is now:\n%s", after)
	}
}

// A level that does not fit the floor is told.
func TestCalibrateTellsWhatDoesNotFit(t *testing.T) {
	said, _, err := calibrateWith(t, kitchenTable, Opts{Yes: true}, nil,
		answer{"", 215}, answer{"60", 175}, answer{"", 0}, answer{"", 0})
	if err != nil || !strings.Contains(said, "Look again: the distance changes by 0.67 mm for each mm of height") || !strings.Contains(said, "10.0 mm off the others") {
		t.Errorf("got %v and\n%s", err, said)
	}
}

// A script says what is under the sensor; no question is asked.
func TestCalibrateByScript(t *testing.T) {
	_, after, err := calibrateWith(t, kitchenTable, Opts{Level: "60", Yes: true, BoreBottom: "80"}, nil)
	if v := configtest.Parse(t, after).Vessels[0]; err != nil || v.FloorMM != 275 || v.BottomMM != 80 {
		t.Errorf("got %v and\n%s", err, after)
	}
	for name, f := range map[string]Opts{
		"a level that is none":      {Level: "high"},
		"a taper without a height":  {Empty: true, BoreBottom: "70", BoreTop: "90"},
		"crosstalk of another chip": {Empty: true, Card: "100"},
	} {
		_, after, err := calibrateWith(t, kitchenTable, f, nil)
		if failure.Code(err) != failure.Usage || after != kitchenTable {
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
		f       Opts
		lost    func(int) bool
		answers []answer
		want    string
	}{
		{"no", Opts{Empty: true}, nil, []answer{{"no", 0}}, "nothing was done"},
		{"no person there", Opts{Empty: true}, nil, nil, "no terminal to ask at"},
		{"no person there to empty it", Opts{}, nil, nil, "no terminal to ask at"},
		{"a dead sensor", Opts{Empty: true, Yes: true}, dead, nil, "sensor eye: only 0 of 5 readings came: no acknowledge"},
		{"a shaky one, and no", Opts{Empty: true}, shaky, []answer{{"y", 0}}, "nothing was done"},
	} {
		_, after, err := calibrateWith(t, kitchenTable, tt.f, tt.lost, tt.answers...)
		if err == nil || !strings.Contains(err.Error(), tt.want) || after != kitchenTable {
			t.Errorf("%s: got %v, want %q", tt.name, err, tt.want)
		}
	}
}

// What was right already is not written again.
func TestCalibrateTwice(t *testing.T) {
	_, once, err := calibrateWith(t, kitchenTable, Opts{Empty: true, Yes: true}, nil)
	if err != nil {
		t.Fatal(err)
	}
	said, twice, err := calibrateWith(t, once, Opts{Empty: true}, nil)
	if err != nil || twice != once || !strings.Contains(said, "there is nothing to write") {
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

// covered is an emulated ranger under a cover glass.
type covered interface {
	bustest.Chip
	Power(on bool)
	Cover(kcps float64)
}

// cook types answers, and changes what lies below the ranger before each.
type cook struct {
	answers []func() string
	said    *strings.Builder
}

func (c *cook) Read(p []byte) (int, error) {
	if len(c.answers) == 0 {
		return 0, io.EOF
	}
	text := c.answers[0]() + "\n"
	c.answers = c.answers[1:]
	c.said.WriteString(text)
	return copy(p, text), nil
}

// TestCalibrateCoverGlass goes the whole way: a glass draws the readings short,
// two cards measure it, the configuration gets it, and a daemon that starts
// afterwards sees a surface that is farther and darker than the card where it
// is. Light comes back by the square of the distance; it and the glasses are
// invented. What the glass throws back in all is 0.32, 0.33 and 0.15 million
// counts a second.
func TestCalibrateCoverGlass(t *testing.T) {
	light := func(mm, reflectance float64) float64 { return 6 * reflectance / 0.17 * (100 / mm) * (100 / mm) }
	for _, tt := range []struct {
		chip                    string
		kcps, mcps, near        float64 // of the glass for each cell, in all, and how well it is to be found
		paper                   float64
		card, grey, floor, deep float64
		new                     func() (covered, func(mm, mcps float64))
	}{
		{"vl53l1x", 20, 0.32, 0.3, 140, 300, 0.17, 215, 190, func() (covered, func(float64, float64)) {
			c := vl53l1xtest.New(vl53l1xtest.Sample{})
			return c, func(mm, mcps float64) {
				c.See(vl53l1xtest.Sample{DistanceMM: mm, SigmaMM: 2, SignalMcps: mcps, Raw: 9})
			}
		}},
		{"vl53l4cd", 20, 0.32, 0.3, 140, 300, 0.17, 215, 190, func() (covered, func(float64, float64)) {
			c := vl53l1xtest.NewL4CD(vl53l1xtest.Sample{})
			return c, func(mm, mcps float64) {
				c.See(vl53l1xtest.Sample{DistanceMM: mm, SigmaMM: 2, SignalMcps: mcps, Raw: 9})
			}
		}},
		{"vl53l0x", 1.5, 0.33, 0.1, 140, 300, 0.17, 215, 190, func() (covered, func(float64, float64)) {
			c := vl53l0xtest.New(vl53l0xtest.Sample{})
			return c, func(mm, mcps float64) { c.See(vl53l0xtest.Sample{DistanceMM: mm, SignalMcps: mcps, Device: 11}) }
		}},
		{"vl6180x", 150, 0.15, 5, 50, 100, 0.03, 160, 140, func() (covered, func(float64, float64)) {
			c := vl6180xtest.New(vl6180xtest.Sample{})
			return c, func(mm, mcps float64) { c.See(vl6180xtest.Sample{DistanceMM: mm, SignalMcps: mcps}) }
		}},
	} {
		t.Run(tt.chip, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				chip, see := tt.new()
				chip.Cover(tt.kcps)
				text := strings.Replace(kitchenTable, `"kitchen"`, strconv.Quote(tt.chip), 1)
				file := filepath.Join(t.TempDir(), "leavend.toml")
				configtest.WriteFile(t, file, text)
				conf, err := config.Load(file)
				if err != nil {
					t.Fatal(err)
				}
				wires := bustest.New("I2C1", chip)
				bench := softRegistry(wires)
				bench.Prepare(conf.Sensors)
				var out strings.Builder
				put := func(mm, reflectance float64, text string) func() string {
					return func() string { see(mm, light(mm, reflectance)); return text }
				}
				same := func(text string) func() string { return func() string { return text } }
				hand := &cook{said: &out, answers: []func() string{
					put(tt.paper, 0.88, fmt.Sprint(tt.paper)), put(tt.card, tt.grey, fmt.Sprint(tt.card)), put(tt.floor, 0.3, ""), same(""), same(""), same("yes"),
				}}
				if err := Run(t.Context(), bench, conf, "Bramble", Opts{}, hand, &out); err != nil {
					t.Fatalf("%v, after\n%s", err, &out)
				}
				golden.Compare(t, filepath.Join("testdata", "glass_"+tt.chip+".txt"), strings.ReplaceAll(out.String(), file, "leavend.toml"))
				after, err := config.Load(file)
				if err != nil {
					t.Fatal(err)
				}
				if got := after.Sensors[0].CrosstalkKcps; math.Abs(got-tt.kcps) > tt.near {
					t.Errorf("crosstalk_kcps is %v, want %v", got, tt.kcps)
				}
				if got := after.Vessels[0].FloorMM; math.Abs(got-tt.floor) > 1 {
					t.Errorf("floor_mm is %v, want %v", got, tt.floor)
				}

				// Both start again; rye (a fifth of the light) stands in the jar.
				see(tt.deep, light(tt.deep, 0.2))
				var mean [2]float64
				for i, c := range []*config.Config{conf, after} {
					chip.Power(false)
					chip.Power(true)
					bench := softRegistry(wires)
					bench.Prepare(c.Sensors)
					opened, err := bench.Open(c.Sensors[0])
					if err != nil {
						t.Fatal(err)
					}
					values, _, err := takeReadings(t.Context(), opened[0].Source, 40, time.Second)
					if err != nil {
						t.Fatal(err)
					}
					mean[i] = noise.Of(values).Mean
				}
				back := light(tt.deep, 0.2)
				if want := tt.deep * back / (back + tt.mcps); math.Abs(mean[0]-want) > 0.2 || tt.deep-mean[0] < 5 {
					t.Errorf("before: the surface at %v mm is seen at %.2f, want %.2f", tt.deep, mean[0], want)
				}
				if math.Abs(mean[1]-tt.deep) > 1 {
					t.Errorf("after: the surface at %v mm is seen at %.2f", tt.deep, mean[1])
				}
				t.Logf("%s: the surface at %v mm is seen at %.1f mm through the glass, and at %.1f after the calibration", tt.chip, tt.deep, mean[0], mean[1])
			})
		})
	}
}

// A glass that throws back more than the chip's register holds is told of, and
// nothing is written: 10 million counts, half of them of the glass on 16 cells,
// are 312 thousand for each.
func TestCalibrateGlassTooBright(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 150, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		conf := configtest.Parse(t, strings.Replace(kitchenTable, `"kitchen"`, `"vl53l1x"`, 1))
		bench := softRegistry(bustest.New("I2C1", chip))
		bench.Prepare(conf.Sensors)
		err := Run(t.Context(), bench, conf, "Bramble", Opts{Card: "300", Yes: true}, strings.NewReader(""), io.Discard)
		if err == nil || !strings.Contains(err.Error(), "the cover glass reflects 313 thousand counts a second, and the vl53l1x can take off 127") {
			t.Errorf("got %v", err)
		}
	})
}

// TestCalibrateOffset has a chip read 20 mm more short than its factory found,
// without a glass. Two cards tell the offset, which goes into the config; a card
// for a glass that lies too near is refused, for the offset would look like one.
func TestCalibrateOffset(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(vl53l1xtest.Sample{})
		chip.Offset(vl53l1xtest.Short + 20)
		see := func(mm, mcps float64) {
			chip.See(vl53l1xtest.Sample{DistanceMM: mm, SigmaMM: 2, SignalMcps: mcps, Raw: 9})
		}
		file := filepath.Join(t.TempDir(), "leavend.toml")
		configtest.WriteFile(t, file, strings.Replace(kitchenTable, `"kitchen"`, `"vl53l1x"`, 1))
		run := func(f Opts, answers ...func() string) (string, config.Sensor, error) {
			conf, err := config.Load(file)
			if err != nil {
				t.Fatal(err)
			}
			bench := softRegistry(bustest.New("I2C1", chip))
			bench.Prepare(conf.Sensors)
			var out strings.Builder
			err = Run(t.Context(), bench, conf, "Bramble", f, &cook{said: &out, answers: answers}, &out)
			after, e := config.Load(file)
			if e != nil {
				t.Fatal(e)
			}
			return out.String(), after.Sensors[0], err
		}
		put := func(mm, mcps float64, text string) func() string {
			return func() string { see(mm, mcps); return text }
		}

		said, eye, err := run(Opts{}, put(140, 15, "140"), put(300, 0.7, "300"), put(215, 2, ""), put(215, 2, ""), put(215, 2, ""), put(215, 2, "yes"))
		if err != nil || eye.OffsetMM != 20 || eye.CrosstalkKcps != 0 || !strings.Contains(said, "Its readings are 20.0 mm short") || !strings.Contains(said, "there is none") {
			t.Errorf("offset_mm %v, crosstalk_kcps %v, %v, after\n%s", eye.OffsetMM, eye.CrosstalkKcps, err, said)
		}
		see(140, 15)
		chip.Offset(vl53l1xtest.Short + 12)
		if said, eye, err = run(Opts{Offset: "140", Yes: true}); err != nil || eye.OffsetMM != 12 {
			t.Errorf("by the flag: offset_mm %v, %v, after\n%s", eye.OffsetMM, err, said)
		}
		if _, _, err = run(Opts{Card: "150", Yes: true}); err == nil || !strings.Contains(err.Error(), "--crosstalk: “150” is not within 250.0 mm to 1300.0 mm") {
			t.Errorf("a card too near: %v", err)
		}
		see(300, 0.7)
		if said, eye, err = run(Opts{Card: "300", Yes: true}); err != nil || eye.CrosstalkKcps != 0 || eye.OffsetMM != 12 {
			t.Errorf("no glass by the flag: crosstalk_kcps %v, %v, after\n%s", eye.CrosstalkKcps, err, said)
		}
	})
}

func TestCalibrateUnknownVessel(t *testing.T) {
	c := &calibration{conf: configtest.Parse(t, kitchenTable)}
	if err := c.find("Pilot"); err == nil || !strings.Contains(err.Error(), "there is no “Pilot”; name one of Bramble") {
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

// softBus is an emulated bus that is closed at the end.
type softBus struct{ *bustest.Bus }

func (softBus) Close() error { return nil }

// softRegistry opens chips on an emulated bus.
func softRegistry(bus *bustest.Bus) *hardware.Registry {
	return &hardware.Registry{Clock: event.NewClock(time.Now(), 1), Bus: func(int) (i2c.BusCloser, error) { return softBus{bus}, nil }}
}

// scripted is a source that gives what a test wrote down.
type scripted struct {
	values []float64 // NaN would be a reading too; an error is in errs
	errs   []error
	asked  int
}

func (s *scripted) Read(context.Context) (sensor.Reading, error) {
	i := s.asked
	s.asked++
	if i < len(s.errs) && s.errs[i] != nil {
		return sensor.Reading{}, s.errs[i]
	}
	return sensor.Reading{Quantity: sensor.Temperature, Value: s.values[i%len(s.values)]}, nil
}

// TestCalibrateWatch watches a still jar for an hour with a ranger that wanders
// as a recorded VL53L0X does, and with one that does not.
func TestCalibrateWatch(t *testing.T) {
	for _, wanderMM := range []float64{0, 1.1} {
		synctest.Test(t, func(t *testing.T) {
			surface, rng := 215.0, rand.New(rand.NewPCG(5, 6))
			wander := wanderMM * rng.NormFloat64()
			bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1), Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) {
				return &sight{surface: &surface, lost: func(int) bool {
					keep := math.Exp(-10.0 / 450) // ten seconds of seven and a half minutes
					wander = keep*wander + math.Sqrt(1-keep*keep)*wanderMM*rng.NormFloat64()
					surface = 215 + wander
					return false
				}}, &scripted{values: []float64{24}}, nil
			}}
			var out strings.Builder
			err := Run(t.Context(), bench, configtest.Parse(t, kitchenTable), "Bramble", Opts{Watch: time.Hour}, strings.NewReader(""), &out)
			if told := strings.Contains(out.String(), "an hour early or late"); err != nil || told != (wanderMM > 0) {
				t.Errorf("a wander of %.1f mm: got %v and\n%s", wanderMM, err, &out)
			}
		})
	}
	if _, _, err := calibrateWith(t, kitchenTable, Opts{Watch: time.Minute}, nil); failure.Code(err) != failure.Usage {
		t.Errorf("a watch of a minute: got %v", err)
	}
}
