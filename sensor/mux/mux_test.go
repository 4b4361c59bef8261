package mux_test

import (
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/mux"
	"leavend/sensor/mux/muxtest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

// bench is two switches with a ranger each on two channels, all of the
// rangers at the same address and seeing different things.
type bench struct {
	board   *bustest.Bus
	chips   [2]*muxtest.Chip
	rangers [4]*vl53l1xtest.Chip
	devs    [4]sensor.Source
	mux     *mux.Mux
}

func newBench(t *testing.T, opts mux.Opts) *bench {
	t.Helper()
	k := &bench{chips: [2]*muxtest.Chip{muxtest.New(0x70), muxtest.New(0x71)}}
	k.board = muxtest.Board("I2C1", k.chips[:]...)
	var err error
	if k.mux, err = mux.New(k.board, []uint16{0x70, 0x71}, opts); err != nil {
		t.Fatal(err)
	}
	for i := range k.rangers {
		k.rangers[i] = vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: float64(100 + i), SigmaMM: 2, SignalMcps: 10, Raw: 9})
		k.chips[i/2].Behind(i % 2).Attach(k.rangers[i])
		port, err := k.mux.Port(uint16(0x70+i/2), i%2)
		if err != nil {
			t.Fatal(err)
		}
		if k.devs[i], err = vl53l1x.New(port, vl53l1x.Addr, vl53l1x.Opts{BudgetMS: 20}); err != nil {
			t.Fatal(err)
		}
	}
	return k
}

// round reads all four rangers and counts those that are right. A value that
// belongs to another ranger ends the test.
func (k *bench) round(t *testing.T) (right int) {
	t.Helper()
	for i, d := range k.devs {
		r, err := d.Read(t.Context())
		if err == nil && r.Value != float64(100+i) {
			t.Fatalf("ranger %d: accepted %v", i, r.Value)
		}
		if err == nil {
			right++
		}
	}
	return right
}

func TestFourAtOneAddress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := newBench(t, mux.Opts{})
		for range 3 {
			if n := k.round(t); n != 4 {
				t.Errorf("%d of 4 rangers were read", n)
			}
		}
	})
}

func TestFaults(t *testing.T) {
	tests := []struct {
		name  string
		begin func(*bench)
	}{
		{"a switch is reset", func(k *bench) { k.chips[0].Reset() }},
		{"both are", func(k *bench) { k.chips[0].Reset(); k.chips[1].Reset() }},
		{"a stray write opens a second channel", func(k *bench) { k.chips[1].Tx([]byte{0x03}, nil) }},
		{"a ranger is reset", func(k *bench) { k.rangers[2].Reset() }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				k := newBench(t, mux.Opts{})
				k.round(t)
				tt.begin(k)
				k.round(t) // May fail, must not take one for another.
				if n := k.round(t); n != 4 {
					t.Errorf("%d of 4 rangers were read two periods on", n)
				}
			})
		})
	}
}

// TestSwitchResetAtEveryTransfer resets a switch before each transfer of a
// round in turn.
func TestSwitchResetAtEveryTransfer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := newBench(t, mux.Opts{})
		k.round(t)
		from := k.board.Count()
		k.round(t)
		for n := range k.board.Count() - from {
			left := n
			k.board.Fault(func(uint16, []byte, []byte) error {
				if left--; left == -1 {
					k.chips[0].Reset()
					k.chips[1].Reset()
				}
				return nil
			})
			k.round(t)
			k.board.Fault(nil)
			k.round(t)
			if right := k.round(t); right != 4 {
				t.Fatalf("reset before transfer %d: %d of 4 rangers two periods on", n, right)
			}
		}
	})
}

// TestOneAlone has no other driver turn the switch: the driver of the only ranger
// has to notice that the switch was reset.
func TestOneAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := newBench(t, mux.Opts{})
		read := func() error { _, err := k.devs[0].Read(t.Context()); return err }
		if err := read(); err != nil {
			t.Fatal(err)
		}
		k.chips[0].Reset()
		read() // May fail.
		if err := read(); err != nil {
			t.Errorf("two periods after the reset: %v", err)
		}
	})
}

// TestNoiseOnTheSwitch corrupts what the switch says of itself.
func TestNoiseOnTheSwitch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := newBench(t, mux.Opts{})
		k.board.Corrupt(func(addr uint16, _, r []byte) {
			if addr == 0x71 && len(r) > 0 {
				r[0] ^= 0x10
			}
		})
		_, err := k.devs[2].Read(t.Context())
		want := "vl53l1x I2C1/0x71.0 0x29: set up: read register 0x10f: tca9548a I2C1 0x71: stands at 0x11, not at 0x01"
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v\nwant %s", err, want)
		}
	})
}

func TestResetFreesAStuckPort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := bustest.NewPin("RESET")
		k := newBench(t, mux.Opts{Reset: pin})
		resets := 0
		pin.OnMove(func(l gpio.Level) {
			if !l {
				resets++
				k.chips[0].Reset()
				k.chips[1].Reset()
			}
		})
		k.round(t)
		k.chips[0].Behind(1).Stick(1000) // Ranger 1 holds its bus for good.
		for range 3 {
			if n := k.round(t); n < 2 {
				t.Errorf("%d rangers were read, although only one port is stuck", n)
			}
			time.Sleep(time.Second)
		}
		if resets == 0 {
			t.Error("the switches were not reset")
		}
		k.chips[0].Behind(1).Stick(0)
		k.round(t)
		if n := k.round(t); n != 4 {
			t.Errorf("%d of 4 rangers two periods after the fault", n)
		}
		broken := errors.New("no such line")
		pin.Fail(broken)
		k.chips[0].Behind(1).Stick(1000)
		if _, err := k.devs[1].Read(t.Context()); !errors.Is(err, broken) && !strings.Contains(err.Error(), "no such line") {
			t.Errorf("a reset pin that fails: %v", err)
		}
	})
}

func TestRefuses(t *testing.T) {
	b := bustest.New("I2C1")
	if _, err := mux.New(b, []uint16{0x60}, mux.Opts{}); err == nil {
		t.Error("address 0x60 was accepted")
	}
	if _, err := mux.New(b, nil, mux.Opts{}); err == nil {
		t.Error("no address was accepted")
	}
	m, _ := mux.New(b, []uint16{0x70}, mux.Opts{})
	if _, err := m.Port(0x70, 8); err == nil {
		t.Error("a ninth port was given")
	}
	if _, err := m.Port(0x71, 0); err == nil {
		t.Error("a port of an unknown switch was given")
	}
}
