package check

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/bme280/bme280test"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/vl53l0x/vl53l0xtest"
)

// muxed is a bus with a TCA9548A at 0x70 and a VL53L1X behind its channel 3,
// as their data sheets describe them.
type muxed struct{ open byte }

var errSilent = errors.New("no acknowledge")

func (m *muxed) Tx(a uint16, w, r []byte) error {
	switch {
	case a == 0x70:
		if len(w) > 0 {
			m.open = w[len(w)-1]
		}
		for i := range r {
			r[i] = m.open
		}
		return nil
	case a == 0x29 && m.open == 1<<3:
		if string(w) == "\x01\x0f" && len(r) == 2 {
			r[0], r[1] = 0xea, 0xcc
		}
		return nil
	}
	return errSilent
}

func TestCheckBusesBehindAMultiplexer(t *testing.T) {
	c, err := config.Parse([]byte(`
[[sensor]]
name = "eye"
chip = "vl53l1x"
mux = 0x70
mux_channel = 3
[[sensor]]
name = "other"
chip = "vl53l1x"
mux = 0x70
mux_channel = 4
`), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	board := ThisBoard()
	board.Root = t.TempDir()
	dev := filepath.Join(board.Root, "dev")
	if err := errors.Join(os.Mkdir(dev, 0o755), os.WriteFile(filepath.Join(dev, "i2c-1"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	bus := &muxed{}
	closed := false
	results := checkBuses(c, board, func(int) (Wires, func() error, error) {
		return bus, func() error { closed = true; return nil }, nil
	})
	var said strings.Builder
	report := Report{Results: results}
	if err := report.WriteText(&said, text.Reader{}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"pass  I²C bus 1 mux 0x70 channel 3: vl53l1x at 0x29.",
		"pass  sensor eye: A vl53l1x answers at 0x29.",
		"fail  sensor other: No vl53l1x answers at 0x29.",
	} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("%q is not said in:\n%s", want, said.String())
		}
	}
	if bus.open != 0 || !closed {
		t.Errorf("the bus was left with channels %08b open, closed: %v", bus.open, closed)
	}
}

// The emulators, which know nothing of the scan, are named by it.
func TestScanNamesEmulators(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, damp := range []bool{true, false} {
			bus := bustest.New("I2C1", bme280test.New(damp), shttest.New(true, 0x44, 22, 55), vl53l0xtest.New(vl53l0xtest.Sample{}))
			time.Sleep(5 * time.Millisecond) // They start.
			want := []Found{{Address: 0x29, Chip: "vl53l0x"}, {Address: 0x44, Chip: "sht4x"}, {Address: 0x76, Chip: map[bool]string{true: "bme280", false: "bmp280"}[damp]}}
			if got := Scan(bus, nil, time.Sleep); !slices.Equal(got, want) {
				t.Errorf("got %v, want %v", got, want)
			}
		}
	})
}
