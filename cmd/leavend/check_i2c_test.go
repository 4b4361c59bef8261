package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
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
	board := check.ThisBoard()
	board.Root = t.TempDir()
	dev := filepath.Join(board.Root, "dev")
	if err := errors.Join(os.Mkdir(dev, 0o755), os.WriteFile(filepath.Join(dev, "i2c-1"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	bus := &muxed{}
	closed := false
	results := checkBuses(c, board, func(int) (check.Wires, func() error, error) {
		return bus, func() error { closed = true; return nil }, nil
	})
	var text strings.Builder
	report := check.Report{Results: results}
	if err := report.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"pass  i2c bus 1 mux 0x70 channel 3: vl53l1x at 0x29.",
		"pass  sensor eye: a vl53l1x answers at 0x29.",
		"fail  sensor other: no vl53l1x answers at 0x29.",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is not said in:\n%s", want, text.String())
		}
	}
	if bus.open != 0 || !closed {
		t.Errorf("the bus was left with channels %08b open, closed: %v", bus.open, closed)
	}
}
