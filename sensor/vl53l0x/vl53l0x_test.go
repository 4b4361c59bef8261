package vl53l0x

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
	"leavend/sensor/vl53l0x/vl53l0xtest"
)

var jar = vl53l0xtest.Sample{DistanceMM: 139, SignalMcps: 12, Device: 11}

// bench is a driver wired to an emulated chip, in a bubble of virtual time.
func bench(t *testing.T, opts Opts, f func(*testing.T, *Dev, *vl53l0xtest.Chip)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l0xtest.New(jar)
		d, err := New(bustest.New("I2C1", chip), Addr, opts)
		if err != nil {
			t.Fatal(err)
		}
		f(t, d, chip)
	})
}

// rig wires a driver to a chip for the tests that all drivers pass.
func rig(t testing.TB) bustest.Rig {
	chip := vl53l0xtest.New(jar)
	b := bustest.New("I2C1", chip)
	d, err := New(b, Addr, Opts{BudgetMS: 20})
	if err != nil {
		t.Fatal(err)
	}
	return bustest.Rig{
		Source: d, Bus: b, Core: chip.Core, Name: "vl53l0x I2C1 0x29: ",
		Vary: func(n int) {
			chip.See(vl53l0xtest.Sample{DistanceMM: float64(100 + n%50), SignalMcps: 10, Device: 11})
		},
		Good: func(n int, r sensor.Reading) bool { return r.Value == float64(100+n%50) && r.Signal == 10 },
	}
}

func TestFaults(t *testing.T) { bustest.Faults(t, rig) }

func TestNoWrongValue(t *testing.T) { bustest.Campaign(t, rig) }

func TestRead(t *testing.T) {
	for _, ms := range []int{20, 33, 200, 500} {
		bench(t, Opts{BudgetMS: ms, OffsetMM: -2}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
			if _, err := d.Read(t.Context()); err != nil {
				t.Fatalf("%d ms: %v", ms, err)
			}
			start := time.Now()
			r, err := d.Read(t.Context())
			want := sensor.Reading{At: start, Quantity: sensor.Distance, Value: 137, Signal: 12, Status: "0 valid"}
			if err != nil || r != want {
				t.Errorf("%d ms: got %+v, %v, want %+v", ms, r, err, want)
			}
			if took := time.Since(start).Milliseconds(); took < int64(ms) || took > int64(ms)+5 {
				t.Errorf("a measurement of %d ms took %d", ms, took)
			}
		})
	}
}

// TestSettings looks at what reached the chip.
func TestSettings(t *testing.T) {
	bench(t, Opts{MinSignal: 0.25, XtalkKcps: 500}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
		chip.Cover(500)
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		p := chip.Page(0)
		for reg, want := range map[int]byte{
			0x01: 0xE8,             // steps that run
			0x44: 0x00, 0x45: 0x20, // 0.25 Mcps in 9.7 fixed point
			0x20: 0x10, 0x21: 0x00, // 0.5 Mcps in 3.13 fixed point
			0x89: 0x01, // bus at 2.8 V
			0x60: 0x00, // the tuning's word on the early limits is the last
			0x0A: 0x04, // interrupt on a new sample
			// Five good cells from number 12 on: 12 to 16.
			0xB0: 0x00, 0xB1: 0xF0, 0xB2: 0x01, 0xB3: 0x00,
		} {
			if p[reg] != want {
				t.Errorf("register 0x%02x: got 0x%02x, want 0x%02x", reg, p[reg], want)
			}
		}
		if got := chip.Page(1)[0x91]; got != vl53l0xtest.Stop {
			t.Errorf("stop value: got 0x%02x, want 0x%02x", got, vl53l0xtest.Stop)
		}
	})
}

func TestChooseSpads(t *testing.T) {
	all := [6]byte{0xFF, 0xF7, 0xFF, 0xFF, 0xFF, 0xFF}
	tests := []struct {
		name     string
		count    int
		aperture bool
		want     [6]byte
	}{
		{"none", 0, false, [6]byte{}},
		{"the first three", 3, false, [6]byte{0x07}},
		{"over a bad cell", 12, false, [6]byte{0xFF, 0x17}},
		{"with aperture", 5, true, [6]byte{0, 0xF0, 0x01}},
		{"more than there are", 127, true, [6]byte{0, 0xF0, 0xFF, 0xFF, 0xFF, 0xFF}},
	}
	for _, tt := range tests {
		if got := chooseSpads(all, tt.count, tt.aperture); got != tt.want {
			t.Errorf("%s: got %x, want %x", tt.name, got, tt.want)
		}
	}
}

// TestTimeouts checks the packed form (mantissa << shift) + 1 over its whole
// range, the tuning's own value, and the time that comes out.
func TestTimeouts(t *testing.T) {
	decode := func(v uint16) int { return int(v&0xFF)<<(v>>8) + 1 }
	for mclks := 1; mclks < 1<<20; mclks = mclks*9/8 + 1 {
		got := decode(encodeTimeout(mclks))
		if got > mclks || float64(got) < float64(mclks)*(1-1.0/128) {
			t.Fatalf("%d macro periods become %d", mclks, got)
		}
	}
	if got := decode(0x01FE); got != 509 || encodeTimeout(509) != 0x01FE {
		t.Errorf("the tuning's final timeout: %d, %04x", got, encodeTimeout(509))
	}
	if encodeTimeout(0) != 0 {
		t.Error("no time at all has a timeout")
	}
}

// TestEveryStatus walks through all 16 device words; only 11 is a reading.
func TestEveryStatus(t *testing.T) {
	bench(t, Opts{BudgetMS: 20}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
		for raw := range uint8(16) {
			s := jar
			s.Device = raw
			chip.See(s)
			r, err := d.Read(t.Context())
			var refused *sensor.Refused
			if raw == 11 {
				if err != nil || r.Value != 139 {
					t.Errorf("11: %+v, %v", r, err)
				}
			} else if !errors.As(err, &refused) || r != (sensor.Reading{}) {
				t.Errorf("%d: got %+v, %v, want a refusal", raw, r, err)
			}
		}
	})
}

func TestRefusesTheImplausible(t *testing.T) {
	for want, s := range map[string]vl53l0xtest.Sample{
		"no target":                     {DistanceMM: 8190, SignalMcps: 1, Device: 11},
		"glare":                         {DistanceMM: 24, SignalMcps: 30, Device: 11},
		"farther":                       {DistanceMM: 1500, SignalMcps: 1, Device: 11},
		"an impossible amount of light": {DistanceMM: 120, SignalMcps: 0.1, Device: 11},
	} {
		bench(t, Opts{}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
			chip.See(s)
			if _, err := d.Read(t.Context()); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("got %v, want a word on %q", err, want)
			}
		})
	}
}

// TestClearInterrupt holds the clearing to ST's driver
// (VL53L0X_ClearInterruptMask): bit 0 of the register is set and released, and
// that up to three times.
func TestClearInterrupt(t *testing.T) {
	for sticky, ok := range map[int]bool{0: true, 2: true, 3: false} {
		bench(t, Opts{BudgetMS: 20}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
			if _, err := d.Read(t.Context()); err != nil {
				t.Fatal(err)
			}
			chip.Sticky(sticky)
			if r, err := d.Read(t.Context()); ok != (err == nil) || !ok && !errors.Is(err, errStuckInt) {
				t.Errorf("an interrupt that outlasts %d attempts: %v, %v", sticky, r.Value, err)
			}
			if got := chip.Page(0)[0x0B]; got != 0 {
				t.Errorf("bit 0 is not released: 0x%02x", got)
			}
		})
	}
}

// TestMarkFits reads the mark back where ST's driver takes 12 bits
// (VL53L0X_GetInterruptThresholds): one that does not fit would have the chip
// set up for each reading.
func TestMarkFits(t *testing.T) {
	if mark&^0x0FFF != 0 {
		t.Errorf("the mark 0x%04x has more than 12 bits", mark)
	}
	bench(t, Opts{BudgetMS: 20}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		if !d.remembers() {
			t.Error("the chip does not remember the mark")
		}
	})
}

// TestReadyByItsOwnBits has the bits of the status beside the three that ST's
// driver looks at (0x07) change between readings.
func TestReadyByItsOwnBits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, b := byte(0), bustest.New("I2C1", vl53l0xtest.New(jar))
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 1 && w[0] == 0x13 {
				n += 0x08
				r[0] = r[0]&0x07 | n
			}
		})
		d, err := New(b, Addr, Opts{BudgetMS: 20})
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
				t.Fatalf("got %v, %v", r.Value, err)
			}
		}
	})
}

func TestStall(t *testing.T) {
	bench(t, Opts{}, func(t *testing.T, d *Dev, chip *vl53l0xtest.Chip) {
		chip.Stall(true)
		_, err := d.Read(t.Context())
		if want := "vl53l0x I2C1 0x29: set up: wait for a reference calibration: nothing within 200ms"; err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
		chip.Stall(false)
		if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
			t.Errorf("afterwards: %v, %v", r.Value, err)
		}
	})
}

func TestReaddress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", vl53l0xtest.New(jar))
		time.Sleep(2 * time.Millisecond)
		if err := Readdress(b, 0x31); err != nil {
			t.Fatal(err)
		}
		d, _ := New(b, 0x31, Opts{})
		if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
			t.Errorf("%v, %v", r.Value, err)
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for name, o := range map[string]Opts{
		"too short a time":  {BudgetMS: 10},
		"an empty range":    {MinMM: 300, MaxMM: 200},
		"a negative signal": {MinSignal: -1},
		"huge crosstalk":    {XtalkKcps: 9000},
		"no number":         {OffsetMM: math.NaN()},
	} {
		if _, err := New(bustest.New("I2C1"), Addr, o); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func Example() {
	b := bustest.New("I2C1", vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 139, SignalMcps: 12, Device: 11}))
	d, err := New(b, Addr, Opts{})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := d.Read(context.Background())
	fmt.Println(r.Value, "mm,", r.Signal, "Mcps,", r.Status, err)
	// Output: 139 mm, 12 Mcps, 0 valid <nil>
}

func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rig, 50, 1200) }

// TestOldResult lets the chip say for ever that a result waits, while it
// measures no more: the old result is not taken for a new one.
func TestOldResult(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l0xtest.New(jar)
		b := bustest.New("I2C1", chip)
		d, _ := New(b, Addr, Opts{BudgetMS: 20})
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		chip.Stall(true)
		asked := 0
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 1 && w[0] == 0x13 {
				if asked++; asked > 2 { // The first two say that nothing waits yet.
					r[0] |= 4
				}
			}
		})
		if r, err := d.Read(t.Context()); !errors.Is(err, bus.ErrStale) {
			t.Errorf("got %+v, %v", r, err)
		}
	})
}
