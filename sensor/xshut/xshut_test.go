package xshut_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/vl53l0x"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/vl6180x"
	"leavend/sensor/vl6180x/vl6180xtest"
	"leavend/sensor/xshut"
)

// bench is four rangers of three kinds on one bus, each with its pin.
type bench struct {
	bus   *bustest.Bus
	cores []*bustest.Core
	pins  []*bustest.Pin
	devs  []sensor.Source
}

func newBench(t *testing.T) *bench {
	t.Helper()
	a := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 100, SigmaMM: 2, SignalMcps: 10, Raw: 9})
	b := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 101, SigmaMM: 2, SignalMcps: 10, Raw: 9})
	c := vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 102, SignalMcps: 10, Device: 11})
	d := vl6180xtest.New(vl6180xtest.Sample{DistanceMM: 103, SignalMcps: 10})
	s := &bench{bus: bustest.New("I2C1", a, b, c, d), cores: []*bustest.Core{a.Core, b.Core, c.Core, d.Core}}
	line := xshut.New(s.bus)
	moves := []xshut.Move{vl53l1x.Readdress, vl53l1x.Readdress, vl53l0x.Readdress, vl6180x.Readdress}
	var members []*xshut.Member
	for i, core := range s.cores {
		pin := bustest.NewPin("XSHUT" + string(rune('A'+i)))
		pin.OnMove(func(l gpio.Level) { core.Power(bool(l)) })
		m, err := line.Join(pin, uint16(0x30+i), moves[i])
		if err != nil {
			t.Fatal(err)
		}
		s.pins, members = append(s.pins, pin), append(members, m)
	}
	open := func(dev sensor.Source, err error) {
		if err != nil {
			t.Fatal(err)
		}
		s.devs = append(s.devs, dev)
	}
	open(vl53l1x.New(s.bus, 0x30, vl53l1x.Opts{BudgetMS: 20, Wake: members[0]}))
	open(vl53l1x.New(s.bus, 0x31, vl53l1x.Opts{BudgetMS: 20, Wake: members[1]}))
	open(vl53l0x.New(s.bus, 0x32, vl53l0x.Opts{BudgetMS: 20, Wake: members[2]}))
	open(vl6180x.New(s.bus, 0x33, vl6180x.Opts{Wake: members[3]}))
	return s
}

// round reads all rangers and counts those that are right.
func (s *bench) round(t *testing.T) (right int) {
	t.Helper()
	for i, d := range s.devs {
		r, err := d.Read(t.Context())
		if err == nil && r.Value != float64(100+i) {
			t.Fatalf("ranger %d: accepted %v", i, r.Value)
		}
		if err == nil {
			right++
		} else {
			t.Log(err)
		}
	}
	return right
}

func TestWakesThemApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newBench(t)
		for range 2 {
			if n := s.round(t); n != 4 {
				t.Errorf("%d of 4 rangers were read", n)
			}
		}
		for i, core := range s.cores {
			if got := core.Addr(); got != uint16(0x30+i) {
				t.Errorf("ranger %d sits at 0x%02x", i, got)
			}
			if s.pins[i].DrivenHigh() > 0 {
				t.Error("an XSHUT pin was driven high")
			}
		}
	})
}

// TestResets dips the supply of every set of rangers: they come back at 0x29,
// several at once, and all are read again within two periods.
func TestResets(t *testing.T) {
	for set := range 1 << 4 {
		synctest.Test(t, func(t *testing.T) {
			s := newBench(t)
			s.round(t)
			for i, core := range s.cores {
				if set>>i&1 == 1 {
					core.Reset()
				}
			}
			s.round(t)
			if n := s.round(t); n != 4 {
				t.Errorf("rangers %04b were reset: %d of 4 were read two periods on", set, n)
			}
		})
	}
}

// TestLostOnesSleepFirst wakes a ranger while another is stranded at 0x29, where
// its move failed: it is put to sleep by itself, and those that stand at their
// places are not disturbed.
func TestLostOnesSleepFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newBench(t)
		s.round(t)
		s.cores[0].Reset()
		s.bus.Fault(func(addr uint16, w, _ []byte) error {
			if addr == xshut.Home && len(w) > 0 {
				return bustest.NoAck()
			}
			return nil
		})
		for range 2 {
			if _, err := s.devs[0].Read(t.Context()); err == nil {
				t.Fatal("a ranger that cannot be moved was read")
			}
		}
		s.bus.Fault(nil)
		if at := s.cores[0].Addr(); at != xshut.Home {
			t.Fatalf("the lost ranger is at 0x%02x: the test tests nothing", at)
		}
		disturbed := 0
		for _, i := range []int{2, 3} {
			core := s.cores[i]
			s.pins[i].OnMove(func(l gpio.Level) { disturbed++; core.Power(bool(l)) })
		}
		s.cores[1].Reset()
		var err error
		for range 2 {
			_, err = s.devs[1].Read(t.Context())
		}
		if err != nil || disturbed > 0 {
			t.Errorf("the second ranger: %v; shut-down lines of others moved %d times", err, disturbed)
		}
	})
}

func TestWiring(t *testing.T) {
	tests := []struct {
		name string
		do   func(*bench)
		want string
	}{
		{"XSHUT of one is not wired", func(s *bench) { s.pins[1].OnMove(nil); s.cores[1].Power(true) },
			"vl53l1x I2C1 0x30: wake: a ranger answers at 0x29 although every XSHUT is low"},
		{"the first has no power", func(s *bench) { s.pins[0].OnMove(nil); s.cores[0].Power(false) },
			"vl53l1x I2C1 0x30: wake: nothing answers at 0x29 after XSHUT was let go"},
		{"the pin cannot be had", func(s *bench) { s.pins[0].Fail(errPin("busy")) },
			"vl53l1x I2C1 0x30: wake: ranger at 0x30: pull XSHUT (XSHUTA) low: busy"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newBench(t)
				tt.do(s)
				time.Sleep(time.Second)
				_, err := s.devs[0].Read(t.Context())
				if err == nil || !strings.HasPrefix(err.Error(), tt.want) {
					t.Errorf("got %v\nwant %s", err, tt.want)
				}
			})
		})
	}
}

type errPin string

func (e errPin) Error() string { return string(e) }

func TestJoinRefuses(t *testing.T) {
	line := xshut.New(bustest.New("I2C1"))
	for _, addr := range []uint16{0x29, 0x07, 0x78} {
		if _, err := line.Join(bustest.NewPin("X"), addr, vl53l1x.Readdress); err == nil {
			t.Errorf("0x%02x was accepted", addr)
		}
	}
	if _, err := line.Join(bustest.NewPin("X"), 0x30, vl53l1x.Readdress); err != nil {
		t.Fatal(err)
	}
	if _, err := line.Join(bustest.NewPin("X"), 0x30, vl53l1x.Readdress); err == nil {
		t.Error("an address was given twice")
	}
}
