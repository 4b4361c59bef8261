package check

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/sht"
)

var errNoAcknowledge = errors.New("no acknowledge")

// chips is a bus with chips on it that answer as their data sheets say, and
// that count what is written to them beyond a register number or a command.
type chips struct {
	at       map[uint16]func(w []byte) []byte // nil is no acknowledge
	spoiled  []string
	channels byte // that a multiplexer has open
}

func (c *chips) Tx(a uint16, w, r []byte) error {
	answer, ok := c.at[a]
	if !ok {
		return errNoAcknowledge
	}
	got := answer(w)
	if got == nil {
		return errNoAcknowledge
	}
	copy(r, got)
	return nil
}

// wide is a chip whose register numbers have two bytes.
func wide(index uint16, value ...byte) func(w []byte) []byte {
	return func(w []byte) []byte {
		out := make([]byte, 8)
		if bytes.Equal(w, []byte{byte(index >> 8), byte(index)}) {
			copy(out, value)
		}
		return out
	}
}

// board with one of each, by their data sheets.
func oneOfEach() *chips {
	c := &chips{channels: 1 << 2}
	waiting := false
	c.at = map[uint16]func(w []byte) []byte{
		0x29: wide(0x010f, 0xea, 0xcc), // VL53L1X
		0x30: func(w []byte) []byte { // VL53L0X: one byte of number, a second one writes
			if len(w) > 1 {
				c.spoiled = append(c.spoiled, fmt.Sprintf("vl53l0x register %#x", w[0]))
			}
			if len(w) == 1 && w[0] == 0xc0 {
				return []byte{0xee, 0xaa}
			}
			return make([]byte, 8)
		},
		0x31: wide(0x0000, 0xb4),       // VL6180X
		0x32: wide(0x010f, 0xeb, 0xaa), // VL53L4CD
		0x44: func(w []byte) []byte { // SHT4x: knows 0x89, refuses the rest
			switch {
			case bytes.Equal(w, []byte{0x89}):
				waiting = true
				return []byte{}
			case len(w) == 0 && waiting:
				waiting = false
				return []byte{0xbe, 0xef, 0x92, 0xbe, 0xef, 0x92}
			}
			return nil
		},
		0x45: func(w []byte) []byte { // SHT3x: status as after power-on, 0x8010 with its checksum
			if bytes.Equal(w, []byte{0xf3, 0x2d}) {
				return []byte{0x80, 0x10, sht.CRC([]byte{0x80, 0x10})}
			}
			return nil
		},
		0x48: func(w []byte) []byte { // ADS1115
			switch {
			case bytes.Equal(w, []byte{0x02}):
				return []byte{0x80, 0x00}
			case bytes.Equal(w, []byte{0x03}):
				return []byte{0x7f, 0xff}
			}
			return []byte{0x85, 0x83}
		},
		0x38: func(w []byte) []byte { // PCF8574A: any byte switches its outputs
			if len(w) > 0 {
				c.spoiled = append(c.spoiled, "the relays at 0x38")
			}
			return []byte{0xff}
		},
		0x50: func(w []byte) []byte { // a stranger
			if len(w) > 0 {
				c.spoiled = append(c.spoiled, "the stranger at 0x50")
			}
			return []byte{0}
		},
		0x76: func(w []byte) []byte { // BME280
			if bytes.Equal(w, []byte{0xd0}) {
				return []byte{0x60}
			}
			return []byte{0}
		},
		0x77: func(w []byte) []byte { // TCA9548A with channel 2 open, which it must be again
			if len(w) > 0 {
				c.channels = w[0]
			}
			return []byte{c.channels}
		},
		0x70: func(w []byte) []byte { // TCA9548A: any byte switches channels
			if len(w) > 0 {
				c.spoiled = append(c.spoiled, "the multiplexer")
			}
			return []byte{0}
		},
	}
	return c
}

func TestScanNamesChips(t *testing.T) {
	bus := oneOfEach()
	got := Scan(bus, []uint16{0x30, 0x31, 0x32}, func(time.Duration) {})
	want := []Found{{0x29, "vl53l1x"}, {0x30, "vl53l0x"}, {0x31, "vl6180x"}, {0x32, "vl53l4cd"}, {0x38, ""}, {0x44, "sht4x"}, {0x45, "sht3x"}, {0x48, "ads1115-ntc"}, {0x50, ""}, {0x70, ""}, {0x76, "bme280"}, {0x77, ""}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if bus.channels != 1<<2 {
		t.Errorf("the multiplexer at 0x77 was left with channels %08b", bus.channels)
	}
	if len(bus.spoiled) > 0 {
		t.Errorf("the scan wrote to %v", bus.spoiled)
	}
	if r := Survey("i2c bus 1", got); r.Level != Pass || !strings.Contains(english(r.Says), "vl53l1x at 0x29") || !strings.Contains(english(r.Says), "multiplexer (TCA9548A), or") {
		t.Errorf("Survey says %+v", r)
	}
	if r := Survey("i2c bus 1", nil); r.Level != Warn || r.Do.IsZero() {
		t.Errorf("Survey of an empty bus says %+v", r)
	}
}

// The data sheets of the SHT chips give this example of their checksum.

func TestExpect(t *testing.T) {
	found := []Found{{0x29, "vl53l1x"}, {0x44, "sht4x"}, {0x48, ""}}
	for _, tt := range []struct {
		name    string
		chip    string
		address uint16
		sleeps  bool
		level   Level
		part    string
	}{
		{"there", "vl53l1x", 0x29, false, Pass, "answers at 0x29"},
		{"another chip", "vl53l0x", 0x29, false, Fail, `Set chip = "vl53l1x"`},
		{"another address", "sht4x", 0x45, false, Fail, "One is at 0x44"},
		{"absent", "vl6180x", 0x30, false, Fail, "Check its wires"},
		{"asleep", "vl53l0x", 0x30, true, Note, "shut-down line wakes it"},
		{"one that does not say who it is", "ads1115-ntc", 0x48, false, Pass, "answers at 0x48"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := Expect("eye", tt.chip, tt.address, tt.sleeps, found)
			if got.Level != tt.level || !strings.Contains(english(got.Says)+english(got.Do), tt.part) {
				t.Errorf("got %+v, want %s with %q", got, tt.level, tt.part)
			}
		})
	}
}

func TestReadings(t *testing.T) {
	lost := errors.New("no acknowledge")
	for _, tt := range []struct {
		name, quantity string
		values         []float64
		errs           []error
		level          Level
		part           string
	}{
		// The sample standard deviation of 1 to 5 is the root of 2.5.
		{"known noise", "distance", []float64{101, 102, 103, 104, 105}, nil, Pass, "Distance 103.0 mm, with a noise of 1.6 mm"},
		{"still as a picture", "distance", []float64{100, 100, 100, 100, 100}, nil, Note, "may be stuck"},
		{"a still thermometer", "temperature", []float64{21.5, 21.5, 21.5}, nil, Pass, "21.50 °C"},
		{"much noise", "distance", []float64{80, 100, 120}, nil, Warn, "noise of 20.0 mm"},
		{"one lost", "temperature", []float64{21, 21.1}, []error{lost}, Warn, "1 of 3 readings did not come: no acknowledge"},
		{"all lost", "temperature", nil, []error{lost, lost}, Fail, "None of 2 readings"},
		{"nothing tried", "temperature", nil, nil, Fail, "no reading came"},
		{"too warm for a kitchen", "temperature", []float64{84, 85}, nil, Fail, "A kitchen has -5.00 °C to 60.00 °C"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := Readings("eye", tt.quantity, tt.values, tt.errs)
			if got.Level != tt.level || !strings.Contains(english(got.Says), tt.part) || got.Level == Fail && got.Do.IsZero() {
				t.Errorf("got %+v, want %s with %q", got, tt.level, tt.part)
			}
		})
	}
}

func TestReadingsInUSUnits(t *testing.T) {
	american := text.Reader{Fahrenheit: true, Inches: true}
	if got := Readings("probe", "temperature", []float64{25, 25}, nil).Says.In(american); !strings.Contains(got, "Temperature 77.00 °F") {
		t.Errorf("got %q", got)
	}
	if got := Readings("eye", "distance", []float64{254, 254}, nil).Says.In(american); !strings.Contains(got, "Distance 10.00 in") {
		t.Errorf("got %q", got)
	}
}

// A daemon is in the way only where it uses the same bus, line or plug.
func TestRunningOn(t *testing.T) {
	mine := configtest.Parse(t, "[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\naddress = 0x30\nxshut = 22\n[[vessel]]\nname = \"Bramble\"\ndistance = \"eye\"\n")
	for _, tt := range []struct {
		name, theirs string
		want         bool
	}{
		{"the same bus", "[[sensor]]\nname = \"room\"\nchip = \"sht3x\"\n", true},
		{"another bus", "[[sensor]]\nname = \"room\"\nchip = \"sht3x\"\nbus = 3\n", false},
		{"the same line", "[mat]\noutput = \"gpio\"\nline = 22\nprobe = \"p\"\n[[sensor]]\nname = \"p\"\nchip = \"ds18b20\"\n", true},
		{"nothing of the board", "", false},
		{"a configuration with a mistake", "clock = 13\n", true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			file := configtest.Write(t, tt.theirs)
			pid, ok := fake(t, map[string]string{"/proc/417/cmdline": "/usr/bin/leavend\x00run\x00--config\x00" + file + "\x00"}).RunningOn(mine)
			if ok != tt.want || ok && pid != "417" {
				t.Errorf("got %q, %v; want %v", pid, ok, tt.want)
			}
		})
	}
	contained := map[string]string{
		"/proc/12/cmdline":                       "/usr/bin/leavend\x00run\x00-c\x00/etc/leavend/leavend.toml\x00",
		"/proc/12/root/etc/leavend/leavend.toml": "[[sensor]]\nname = \"room\"\nchip = \"sht3x\"\nbus = 3\n",
	}
	if _, ok := fake(t, contained).RunningOn(mine); ok {
		t.Error("a daemon in a container, on another bus, is in the way")
	}
	for name, files := range map[string]map[string]string{
		"no daemon":                    {"/proc/12/cmdline": "/bin/sh\x00leavend\x00run\x00", "/proc/13/cmdline": "leavend\x00check\x00"},
		"one of whom nothing is known": {"/proc/12/cmdline": "leavend\x00run\x00-c\x00mine.toml\x00"},
	} {
		if _, ok := fake(t, files).RunningOn(mine); ok != (name != "no daemon") {
			t.Errorf("%s: %v", name, ok)
		}
	}
}
