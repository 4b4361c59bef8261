package vl53l1x_test

import (
	"hash/crc32"
	"strings"
	"testing"
	"time"

	"leavend/sensor/bus/bustest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

// written returns the registers of a chip after a first reading.
func written(t *testing.T, chip *vl53l1xtest.Chip, opts vl53l1x.Opts) (m []byte) {
	t.Helper()
	d, err := vl53l1x.New(bustest.New("I2C1", chip), vl53l1x.Addr, opts)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Read(t.Context()); err != nil {
		t.Fatal(err)
	}
	chip.Do(func(mem *bustest.Memory) { m = append(m, mem.Bytes...) })
	return m
}

func word(m []byte, reg int) int { return int(m[reg])<<8 | int(m[reg+1]) }

// TestMakersBlock holds the 91 start values to those of ST's ultra lite driver
// 3.5.0: their CRC-32 (IEEE), taken of its array while it drove the emulator,
// stands for them.
func TestMakersBlock(t *testing.T) {
	block := vl53l1x.Settings()
	if len(block) != 91 || block[0x7F-0x2D] != 0xC7 || block[0x80-0x2D] != 0xFF || block[0x81-0x2D] != 0x9B {
		t.Errorf("%d values, region 0x%02x, 0x%02x, steps 0x%02x", len(block), block[0x52], block[0x53], block[0x54])
	}
	if got, want := crc32.ChecksumIEEE(block), uint32(0x8419FEB5); got != want {
		t.Errorf("the block's checksum is 0x%08x, the maker's is 0x%08x", got, want)
	}
}

// TestMakersFigures holds what reaches the chip to ST's driver 3.5.0: the pair
// of timeouts for 100 ms in short mode (VL53L1X_SetTimingBudgetInMs), and
// crosstalk in 7.9 fixed point (VL53L1X_SetXtalk: 1500 counts a second become
// 1500 << 9 / 1000 = 768).
func TestMakersFigures(t *testing.T) {
	bench(t, vl53l1x.Opts{}, func(t *testing.T, _ *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		chip.Cover(1.5)
		m := written(t, chip, vl53l1x.Opts{BudgetMS: 100, XtalkKcps: 1.5})
		for reg, want := range map[int]int{0x5E: 0x02E1, 0x61: 0x0388, 0x16: 768, 0x18: 0, 0x1A: 0} {
			if got := word(m, reg); got != want {
				t.Errorf("register 0x%02x: got 0x%04x, want 0x%04x", reg, got, want)
			}
		}
	})
}

// TestOpticalCentre has a region of up to 10 cells lie around the centre that
// the factory found, at 0x013E, and a larger one around cell 199
// (VL53L1X_SetROI). A small region elsewhere looks aside.
func TestOpticalCentre(t *testing.T) {
	for cells, centre := range map[int]byte{4: vl53l1xtest.Centre, 10: vl53l1xtest.Centre, 11: 199, 16: 199} {
		bench(t, vl53l1x.Opts{}, func(t *testing.T, _ *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
			if m := written(t, chip, vl53l1x.Opts{Cells: cells}); m[0x7F] != centre || int(m[0x80]&0x0F) != cells-1 {
				t.Errorf("%d cells: centre %d, size 0x%02x, want centre %d", cells, m[0x7F], m[0x80], centre)
			}
		})
	}
}

// TestFactoryOffset has the chip add what its factory wrote down: the outer
// offset in mm becomes the part-to-part offset in quarters (as a widely used
// driver does for ST's VL53L1_init_and_start_range; a public log has 18 mm).
// Without it the emulator reads 121 for 139.
func TestFactoryOffset(t *testing.T) {
	bench(t, vl53l1x.Opts{}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
			t.Errorf("got %v, %v, want 139", r.Value, err)
		}
		if m := written(t, chip, vl53l1x.Opts{}); word(m, 0x1E) != 4*vl53l1xtest.Short {
			t.Errorf("part-to-part offset: %d quarters, want %d", word(m, 0x1E), 4*vl53l1xtest.Short)
		}
	})
	// Below zero: -5 mm are -20 quarters in 13 bits.
	bench(t, vl53l1x.Opts{}, func(t *testing.T, _ *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		chip.Factory(-5)
		if m := written(t, chip, vl53l1x.Opts{}); word(m, 0x1E) != 0x1FEC {
			t.Errorf("part-to-part offset: 0x%04x, want 0x1fec", word(m, 0x1E))
		}
	})
}

// TestDeadZoneIsOfTheCorrectedDistance: a chip that reads 20 mm short shows a
// surface at 45 mm as one at 25, which an offset of 20 mm puts right before it
// is looked at for glare.
func TestDeadZoneIsOfTheCorrectedDistance(t *testing.T) {
	bench(t, vl53l1x.Opts{OffsetMM: 20}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, _ *bustest.Bus) {
		chip.Offset(vl53l1xtest.Short + 20)
		for mm, ok := range map[float64]bool{45: true, 39: false} {
			chip.See(vl53l1xtest.Sample{DistanceMM: mm, SigmaMM: 2, SignalMcps: 12, Raw: 9})
			r, err := d.Read(t.Context())
			if ok && (err != nil || r.Value != mm) || !ok && (err == nil || !strings.Contains(err.Error(), "glare")) {
				t.Errorf("%v mm: got %v, %v", mm, r.Value, err)
			}
		}
	})
}

// TestReadyByItsOwnBit has the status register change in bits that say other
// things, as a chip does that stops being fresh out of reset: ST's driver looks
// at bit 0 only (VL53L1X_CheckForDataReady).
func TestReadyByItsOwnBit(t *testing.T) {
	bench(t, vl53l1x.Opts{BudgetMS: 20}, func(t *testing.T, d *vl53l1x.Dev, chip *vl53l1xtest.Chip, b *bustest.Bus) {
		n := byte(0)
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 2 && w[1] == 0x31 && len(r) == 1 {
				n++
				r[0] = r[0]&1 | n<<1
			}
		})
		for range 3 {
			if r, err := d.Read(t.Context()); err != nil || r.Value != 139 {
				t.Fatalf("got %v, %v", r.Value, err)
			}
		}
	})
}

// TestStreamCount takes status 9 of a chip that ranges in a row for checked:
// its wrap-around was compared with the measurement before.
func TestStreamCount(t *testing.T) {
	bench(t, vl53l1x.Opts{BudgetMS: 20}, func(t *testing.T, d *vl53l1x.Dev, _ *vl53l1xtest.Chip, b *bustest.Bus) {
		b.Corrupt(func(_ uint16, w, r []byte) {
			if len(w) == 2 && w[1] == 0x89 {
				r[2] = 7
			}
		})
		if r, err := d.Read(t.Context()); err != nil || r.Status != "0 valid" {
			t.Errorf("got %+v, %v", r, err)
		}
	})
}

// TestL4CDTimeouts holds the timeouts to those of ST's driver 1.0.0 for a clock
// of 0xBCCC (VL53L4CD_SetRangeTiming with a period, compiled and run).
func TestL4CDTimeouts(t *testing.T) {
	for ms, want := range map[int][2]uint16{
		20: {0x00A0, 0x00D5}, 50: {0x01E9, 0x029B}, 110: {0x0387, 0x03B4}, 200: {0x03FA, 0x04A7},
	} {
		if a, b := vl53l1x.TimeoutsL4CD(0xBCCC, ms); a != want[0] || b != want[1] {
			t.Errorf("%d ms: got 0x%04x, 0x%04x, want 0x%04x", ms, a, b, want)
		}
	}
}

// TestL4CD looks at what reaches a VL53L4CD.
func TestL4CD(t *testing.T) {
	bench(t, vl53l1x.Opts{}, func(t *testing.T, _ *vl53l1x.Dev, _ *vl53l1xtest.Chip, _ *bustest.Bus) {
		chip := vl53l1xtest.NewL4CD(vl53l1xtest.Sample{DistanceMM: 12, SigmaMM: 1, SignalMcps: 20, Raw: 9})
		d, err := vl53l1x.New(bustest.New("I2C1", chip), vl53l1x.Addr, vl53l1x.Opts{Chip: vl53l1x.VL53L4CD, BudgetMS: 50})
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			start := time.Now()
			r, err := d.Read(t.Context())
			if err != nil || r.Value != 12 {
				t.Fatalf("got %+v, %v", r, err)
			}
			if took := time.Since(start); took < 49*time.Millisecond || took > 120*time.Millisecond {
				t.Errorf("a measurement of 50 ms took %v", took)
			}
		}
		chip.Do(func(m *bustest.Memory) {
			for reg, want := range map[uint16]uint16{
				0x5E: 0x01E9, 0x61: 0x029B, // 50 ms
				0x64: 160,    // sigma limit of 40 mm, 14.2 fixed point
				0x24: 0x0500, // without a name
				0x4B: 0x1421, // short mode
				0x69: 0x3800,
				0x1E: 0, // no offset of the factory is known of
			} {
				if got := m.U16(reg); got != want {
					t.Errorf("register 0x%02x: got 0x%04x, want 0x%04x", reg, got, want)
				}
			}
			if m.Bytes[0x87] != 0 {
				t.Error("it goes on measuring")
			}
		})
	})
}

// TestL4CDRefusesOthers: the two chips differ by their model numbers alone.
func TestL4CDRefusesOthers(t *testing.T) {
	bench(t, vl53l1x.Opts{Chip: vl53l1x.VL53L4CD}, func(t *testing.T, d *vl53l1x.Dev, _ *vl53l1xtest.Chip, _ *bustest.Bus) {
		want := "vl53l4cd I2C1 0x29: set up: another chip answers: this is no VL53L4CD: its model is 0xeacc, not 0xebaa"
		if _, err := d.Read(t.Context()); err == nil || err.Error() != want {
			t.Errorf("got %v\nwant %s", err, want)
		}
	})
}
