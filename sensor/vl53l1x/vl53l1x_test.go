package vl53l1x_test

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
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

var jar = vl53l1xtest.Sample{DistanceMM: 139, SigmaMM: 2.5, SignalMcps: 12, Raw: 9}

// bench is a driver wired to an emulated chip, in a bubble of virtual time.
func bench(t *testing.T, opts vl53l1x.Opts, f func(*testing.T, *vl53l1x.Dev, *vl53l1xtest.Chip, *bustest.Bus)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(jar)
		b := bustest.New("I2C1", chip)
		d, err := vl53l1x.New(b, vl53l1x.Addr, opts)
		if err != nil {
			t.Fatal(err)
		}
		f(t, d, chip, b)
	})
}

func TestReadsEveryMode(t *testing.T) {
	for _, mode := range []vl53l1x.Mode{vl53l1x.Short, vl53l1x.Long} {
		for _, ms := range []int{20, 33, 50, 100, 200, 500} {
			bench(t, vl53l1x.Opts{Mode: mode, BudgetMS: ms, Cells: 8}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
				if _, err := d.Read(t.Context()); err != nil {
					t.Fatalf("mode %v, %d ms: %v", mode, ms, err)
				}
				start := time.Now()
				r, err := d.Read(t.Context())
				want := sensor.Reading{At: start, Quantity: sensor.Distance, Value: 139, Sigma: 2.5, Signal: 12, Status: "6 unchecked"}
				if err != nil || r != want {
					t.Errorf("mode %v, %d ms: got %+v, %v, want %+v", mode, ms, r, err, want)
				}
				budget := time.Duration(ms) * time.Millisecond
				if took := time.Since(start); took < budget || took > budget+5*time.Millisecond {
					t.Errorf("mode %v: a measurement of %d ms took %v", mode, ms, took)
				}
			})
		}
	}
}

// TestSettings looks at what reached the chip.
func TestSettings(t *testing.T) {
	opts := vl53l1x.Opts{Cells: 6, XtalkKcps: 1}
	bench(t, opts, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		chip.Do(func(m *bustest.Memory) {
			for reg, want := range map[uint16]uint16{
				0x7F: 183<<8 | 0x55, // centre, and height and width less one
				0x1E: 72,            // the factory's 18 mm in quarters
				0x16: 512,           // 1 kcps in 7.9 fixed point
				0x2E: 0x0101,        // pull-ups to the chip's supply
				0x60: 0x0700,        // short mode: first laser period
				0x08: 0x0900,        // supply of the cells starts from the last one found
			} {
				got := m.U16(reg)
				if reg == 0x60 || reg == 0x08 {
					got &= 0xFF00
				}
				if got != want {
					t.Errorf("register 0x%02x: got 0x%04x, want 0x%04x", reg, got, want)
				}
			}
		})
	})
}

// TestEveryStatus walks through all 32 raw words; only 9, and 19 for which the
// wrap-around was not checked, are valid readings.
func TestEveryStatus(t *testing.T) {
	want := map[uint8]string{3: "hardware fault", 4: "too little light", 5: "out of bounds", 6: "uncertain", 7: "wraps", 23: "do not fit"}
	bench(t, vl53l1x.Opts{BudgetMS: 20}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		for raw := range uint8(32) {
			s := jar
			s.Raw = raw | 0xE0 // the upper bits say other things
			chip.See(s)
			r, err := d.Read(t.Context())
			var refused *sensor.Refused
			switch {
			case raw == 9 || raw == 19:
				if err != nil || r.Value != 139 || r.Status != "6 unchecked" {
					t.Errorf("raw %d: %+v, %v", raw, r, err)
				}
			case !errors.As(err, &refused) || r != (sensor.Reading{}):
				t.Errorf("raw %d: got %+v, %v, want a refusal", raw, r, err)
			case !strings.Contains(err.Error(), want[raw]) || !strings.HasPrefix(err.Error(), "vl53l1x I2C1 0x29: measure: refused distance 139: "):
				t.Errorf("raw %d: %v", raw, err)
			}
		}
	})
}

func TestRefusesTheImplausible(t *testing.T) {
	tests := []struct {
		name string
		s    vl53l1xtest.Sample
		want string
	}{
		// Glossy tilted targets give 22 to 27 mm with a valid status, as users
		// of the chip report.
		{"glare from wet dough", vl53l1xtest.Sample{DistanceMM: 24, SigmaMM: 1, SignalMcps: 30, Raw: 9}, "glare"},
		{"beyond short mode", vl53l1xtest.Sample{DistanceMM: 1400, SigmaMM: 8, SignalMcps: 2, Raw: 9}, "farther"},
		{"foam", vl53l1xtest.Sample{DistanceMM: 120, SigmaMM: 35, SignalMcps: 2, Raw: 9}, "sigma"},
		{"valid in the dark", vl53l1xtest.Sample{DistanceMM: 120, SigmaMM: 1, Raw: 9}, "impossible amount of light"},
		{"unchecked and dim", vl53l1xtest.Sample{DistanceMM: 120, SigmaMM: 1, SignalMcps: 0.3, Raw: 9}, "wraps around was not checked"},
		{"no target: 8191", vl53l1xtest.Sample{DistanceMM: 8191, SigmaMM: 1, SignalMcps: 1, Raw: 9}, "farther"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			bench(t, vl53l1x.Opts{}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
				chip.See(tt.s)
				_, err := d.Read(t.Context())
				if err == nil || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("got %v, want a word on %q", err, tt.want)
				}
				chip.See(jar)
				if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
					t.Errorf("afterwards: %v, %v", r.Value, err)
				}
			})
		})
	}
}

// rigs wire a driver to either chip for the faults that all chips share.
func rigs() map[string]func(testing.TB) bustest.Rig {
	return map[string]func(testing.TB) bustest.Rig{
		"vl53l1x":  func(t testing.TB) bustest.Rig { return rig(t, vl53l1x.VL53L1X, vl53l1xtest.New(jar)) },
		"vl53l4cd": func(t testing.TB) bustest.Rig { return rig(t, vl53l1x.VL53L4CD, vl53l1xtest.NewL4CD(jar)) },
	}
}

func rig(t testing.TB, kind vl53l1x.Chip, chip *vl53l1xtest.Chip) bustest.Rig {
	b := bustest.New("I2C1", chip)
	d, err := vl53l1x.New(b, vl53l1x.Addr, vl53l1x.Opts{Chip: kind, BudgetMS: 20})
	if err != nil {
		t.Fatal(err)
	}
	return bustest.Rig{
		Source: d, Bus: b, Core: chip.Core, Name: d.String() + ": ",
		// What a measurement sees changes with its number, so that an old
		// reading is told from a new one.
		Vary: func(n int) {
			chip.See(vl53l1xtest.Sample{DistanceMM: float64(100 + n%50), SigmaMM: 2, SignalMcps: 10, Raw: 9})
		},
		// A transfer cut behind its last byte but one leaves distance and
		// sigma right and the signal off by less than two.
		Good: func(n int, r sensor.Reading) bool {
			return r.Value == float64(100+n%50) && r.Sigma == 2 && math.Abs(r.Signal-10) < 2
		},
	}
}

func TestFaults(t *testing.T) {
	for name, rig := range rigs() {
		t.Run(name, func(t *testing.T) { bustest.Faults(t, rig) })
	}
}

func TestNoWrongValue(t *testing.T) {
	for name, rig := range rigs() {
		t.Run(name, func(t *testing.T) { bustest.Campaign(t, rig) })
	}
}

func TestFaultsOfItsOwn(t *testing.T) {
	tests := []struct {
		name string
		set  func(*vl53l1xtest.Chip, bool)
		want string
	}{
		{"the measurement never ends", (*vl53l1xtest.Chip).Stall, "wait for a result: nothing within"},
		{"another chip sits there", func(c *vl53l1xtest.Chip, on bool) {
			c.Reset()
			if on {
				c.Do(func(m *bustest.Memory) { m.Put16(0x010F, 0xEBAA) })
			}
		}, "this is no VL53L1X: its model is 0xebaa"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			bench(t, vl53l1x.Opts{}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
				if _, err := d.Read(t.Context()); err != nil {
					t.Fatal(err)
				}
				tt.set(chip, true)
				if _, err := d.Read(t.Context()); err == nil || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("got %v, want a word on %q", err, tt.want)
				}
				tt.set(chip, false)
				if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
					t.Errorf("afterwards: %v, %v", r.Value, err)
				}
			})
		})
	}
}

// TestResetInMidMeasurement pulls the supply while the chip ranges, at every
// millisecond of a measurement: the read fails or is right, and the next one
// is right.
func TestResetInMidMeasurement(t *testing.T) {
	for ms := range 30 {
		bench(t, vl53l1x.Opts{BudgetMS: 20, Cells: 8}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
			if _, err := d.Read(t.Context()); err != nil {
				t.Fatal(err)
			}
			go func() {
				time.Sleep(time.Duration(ms) * time.Millisecond)
				chip.Reset()
			}()
			if r, err := d.Read(t.Context()); err == nil && r.Value != 139 {
				t.Errorf("reset after %d ms: accepted %+v", ms, r)
			}
			time.Sleep(time.Second)
			if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
				t.Errorf("reset after %d ms, next read: %v, %v", ms, r.Value, err)
			}
			chip.Do(func(m *bustest.Memory) {
				if m.Bytes[0x80] != 0x77 {
					t.Errorf("reset after %d ms: the region of interest is 0x%02x, so the settings were lost", ms, m.Bytes[0x80])
				}
			})
		})
	}
}

func TestReadHeedsItsContext(t *testing.T) {
	bench(t, vl53l1x.Opts{BudgetMS: 500}, func(t *testing.T, d *vl53l1x.Dev, _ *vl53l1xtest.Chip, _ *bustest.Bus) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		start := time.Now()
		_, err := d.Read(ctx)
		if !errors.Is(err, context.DeadlineExceeded) || time.Since(start) > 70*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(start))
		}
		if _, err := d.Read(t.Context()); err != nil {
			t.Errorf("next read: %v", err)
		}
	})
}

func TestReaddress(t *testing.T) {
	bench(t, vl53l1x.Opts{}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, b *bustest.Bus) {
		time.Sleep(2 * time.Millisecond)
		if err := vl53l1x.Readdress(b, 0x30); err != nil {
			t.Fatal(err)
		}
		if _, err := d.Read(t.Context()); !errors.Is(err, bus.ErrNoAck) {
			t.Errorf("at the old address: %v", err)
		}
		moved, _ := vl53l1x.New(b, 0x30, vl53l1x.Opts{})
		if r, err := moved.Read(t.Context()); err != nil || r.Value != 139 {
			t.Errorf("at the new address: %v, %v", r.Value, err)
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for name, o := range map[string]vl53l1x.Opts{
		"an unknown mode":    {Mode: 2},
		"too short a time":   {BudgetMS: 19},
		"three cells":        {Cells: 3},
		"seventeen cells":    {Cells: 17},
		"an empty range":     {MinMM: 300, MaxMM: 200},
		"an unknown chip":    {Chip: 2},
		"a VL53L4CD, long":   {Chip: vl53l1x.VL53L4CD, Mode: vl53l1x.Long},
		"a VL53L4CD, narrow": {Chip: vl53l1x.VL53L4CD, Cells: 8},
		"a slow VL53L4CD":    {Chip: vl53l1x.VL53L4CD, BudgetMS: 201},
		"a far offset":       {OffsetMM: 2000},
		"negative crosstalk": {XtalkKcps: -1},
	} {
		if _, err := vl53l1x.New(bustest.New("I2C1"), vl53l1x.Addr, o); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func Example() {
	b := bustest.New("I2C1", vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 139, SigmaMM: 2.5, SignalMcps: 12, Raw: 9}))
	d, err := vl53l1x.New(b, vl53l1x.Addr, vl53l1x.Opts{Cells: 8})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := d.Read(context.Background())
	fmt.Println(r.Value, "mm, sigma", r.Sigma, r.Status, err)
	// Output: 139 mm, sigma 2.5 6 unchecked <nil>
}

func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rigs()["vl53l1x"], 40, 1300) }

// TestOldResult lets the chip say for ever that a result waits, while it
// measures no more: the old result is not taken for a new one.
func TestOldResult(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(jar)
		b := bustest.New("I2C1", chip)
		d, _ := vl53l1x.New(b, vl53l1x.Addr, vl53l1x.Opts{BudgetMS: 20})
		if _, err := d.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		chip.Stall(true)
		asked := 0
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 2 && w[1] == 0x31 {
				if asked++; asked > 2 { // The first two say that nothing waits yet.
					r[0] |= 1
				}
			}
		})
		if r, err := d.Read(t.Context()); !errors.Is(err, bus.ErrStale) {
			t.Errorf("got %+v, %v", r, err)
		}
	})
}
