package vl6180x_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/bus"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/vl6180x"
	"leavend/sensor/vl6180x/vl6180xtest"
)

var jar = vl6180xtest.Sample{DistanceMM: 73, SignalMcps: 8}

// bench is a driver wired to an emulated chip, in a bubble of virtual time.
func bench(t *testing.T, opts vl6180x.Opts, f func(*testing.T, *vl6180x.Dev, *vl6180xtest.Chip)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		chip := vl6180xtest.New(jar)
		d, err := vl6180x.New(bustest.New("I2C1", chip), vl6180x.Addr, opts)
		if err != nil {
			t.Fatal(err)
		}
		f(t, d, chip)
	})
}

// rig wires a driver to a chip for the tests that all drivers pass.
func rig(t testing.TB) bustest.Rig {
	chip := vl6180xtest.New(jar)
	b := bustest.New("I2C1", chip)
	d, err := vl6180x.New(b, vl6180x.Addr, vl6180x.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	return bustest.Rig{
		Source: d, Bus: b, Core: chip.Core, Name: "vl6180x I2C1 0x29: ",
		Vary: func(n int) { chip.See(vl6180xtest.Sample{DistanceMM: float64(50 + n%50), SignalMcps: 10}) },
		Good: func(n int, r sensor.Reading) bool { return r.Value == float64(50+n%50) && r.Signal == 10 },
	}
}

func TestFaults(t *testing.T) { bustest.Faults(t, rig) }

func TestNoWrongValue(t *testing.T) { bustest.Campaign(t, rig) }

func TestRead(t *testing.T) {
	bench(t, vl6180x.Opts{OffsetMM: 1.5, XtalkKcps: 500}, func(t *testing.T, d *vl6180x.Dev, chip *vl6180xtest.Chip) {
		chip.Cover(500)
		r, err := d.Read(t.Context())
		if err != nil || r.Value != 74.5 || r.Signal != 8 || r.Status != "0 valid" || r.Quantity != sensor.Distance {
			t.Errorf("got %+v, %v", r, err)
		}
		chip.Do(func(m *bustest.Memory) {
			if m.U16(0x1E) != 64 || m.Bytes[0x16] != 0 || m.U16(0x96) != 0x00FD || m.Bytes[0x1C] != 49 {
				t.Errorf("settings: crosstalk %d, fresh %d, scale %d, time %d", m.U16(0x1E), m.Bytes[0x16], m.U16(0x96), m.Bytes[0x1C])
			}
		})
	})
}

// TestEveryStatus walks through all 16 codes; only 0 is a reading.
func TestEveryStatus(t *testing.T) {
	bench(t, vl6180x.Opts{}, func(t *testing.T, d *vl6180x.Dev, chip *vl6180xtest.Chip) {
		for code := range uint8(16) {
			s := jar
			s.Code = code
			chip.See(s)
			r, err := d.Read(t.Context())
			var refused *sensor.Refused
			if code == 0 {
				if err != nil || r.Value != 73 {
					t.Errorf("0: %+v, %v", r, err)
				}
			} else if !errors.As(err, &refused) || r != (sensor.Reading{}) {
				t.Errorf("%d: got %+v, %v, want a refusal", code, r, err)
			}
		}
	})
}

func TestRefusesTheImplausible(t *testing.T) {
	for want, s := range map[string]vl6180xtest.Sample{
		"no target":                     {DistanceMM: 255, SignalMcps: 1},
		"glare":                         {DistanceMM: 2, SignalMcps: 30},
		"farther":                       {DistanceMM: 220, SignalMcps: 1},
		"an impossible amount of light": {DistanceMM: 120},
	} {
		bench(t, vl6180x.Opts{}, func(t *testing.T, d *vl6180x.Dev, chip *vl6180xtest.Chip) {
			chip.See(s)
			if _, err := d.Read(t.Context()); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("got %v, want a word on %q", err, want)
			}
		})
	}
}

// TestReadyByItsOwnBits has the bits of the status that tell of ambient light
// and of errors change between readings: the data sheet gives bits 0 to 2 of
// RESULT__INTERRUPT_STATUS_GPIO to ranging.
func TestReadyByItsOwnBits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", vl6180xtest.New(jar))
		d, err := vl6180x.New(b, vl6180x.Addr, vl6180x.Opts{})
		if err != nil {
			t.Fatal(err)
		}
		n := byte(0)
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 2 && w[1] == 0x4F && len(r) == 1 {
				n += 0x08
				r[0] = r[0]&0x07 | n
			}
		})
		for range 3 {
			if r, err := d.Read(t.Context()); err != nil || r.Value != 73 {
				t.Fatalf("got %v, %v", r.Value, err)
			}
		}
	})
}

func TestStallAndOtherChip(t *testing.T) {
	bench(t, vl6180x.Opts{}, func(t *testing.T, d *vl6180x.Dev, chip *vl6180xtest.Chip) {
		chip.Stall(true)
		_, err := d.Read(t.Context())
		if want := "vl6180x I2C1 0x29: measure: wait for a result: nothing within 149ms"; fmt.Sprint(err) != want {
			t.Errorf("got %v, want %s", err, want)
		}
		chip.Stall(false)
		chip.Do(func(m *bustest.Memory) { m.Bytes[0] = 0xEE })
		if _, err := d.Read(t.Context()); !errors.Is(err, bus.ErrOther) {
			t.Errorf("got %v", err)
		}
		chip.Reset()
		if r, err := d.Read(t.Context()); err != nil || r.Value != 73 {
			t.Errorf("afterwards: %v, %v", r.Value, err)
		}
	})
}

func TestReaddress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", vl6180xtest.New(jar))
		time.Sleep(2 * time.Millisecond)
		if err := vl6180x.Readdress(b, 0x32); err != nil {
			t.Fatal(err)
		}
		d, _ := vl6180x.New(b, 0x32, vl6180x.Opts{})
		if r, err := d.Read(t.Context()); err != nil || r.Value != 73 {
			t.Errorf("%v, %v", r.Value, err)
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for name, o := range map[string]vl6180x.Opts{
		"too long a time": {ConvergeMS: 64},
		"an empty range":  {MinMM: 100, MaxMM: 50},
		"no number":       {OffsetMM: math.NaN()},
		"huge crosstalk":  {XtalkKcps: 512_000},
	} {
		if _, err := vl6180x.New(bustest.New("I2C1"), vl6180x.Addr, o); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func Example() {
	b := bustest.New("I2C1", vl6180xtest.New(vl6180xtest.Sample{DistanceMM: 73, SignalMcps: 8}))
	d, err := vl6180x.New(b, vl6180x.Addr, vl6180x.Opts{})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := d.Read(context.Background())
	fmt.Println(r.Value, "mm,", r.Status, err)
	// Output: 73 mm, 0 valid <nil>
}

func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rig, 5, 200) }

// TestOldResult lets the chip say for ever that a result waits, while it
// measures no more: the old result is not taken for a new one.
func TestOldResult(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl6180xtest.New(jar)
		b := bustest.New("I2C1", chip)
		d, _ := vl6180x.New(b, vl6180x.Addr, vl6180x.Opts{})
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		chip.Stall(true)
		asked := 0
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 2 && w[1] == 0x4f {
				if asked++; asked > 2 { // The first two say that nothing waits yet.
					r[0] |= 4
				}
			}
		})
		// The chip says besides that it is busy, so the block is not the same.
		var refused *sensor.Refused
		if r, err := d.Read(t.Context()); !errors.As(err, &refused) {
			t.Errorf("got %+v, %v", r, err)
		}
	})
}
