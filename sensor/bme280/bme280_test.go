package bme280

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
	"leavend/sensor/bme280/bme280test"
	"leavend/sensor/bus"
	"leavend/sensor/bus/bustest"
)

// inWholeNumbers are the data sheet's formulas for processors without a
// floating point (BST-BME280-DS002, section 4.2.3), written down apart from
// those of the driver: °C, and percent.
func inWholeNumbers(rawT, rawH int32) (tempC, percent float64) {
	const t1, t2, t3 = bme280test.T1, bme280test.T2, bme280test.T3
	const h1, h2, h3, h4, h5, h6 = bme280test.H1, bme280test.H2, bme280test.H3, bme280test.H4, bme280test.H5, bme280test.H6
	a := ((rawT>>3 - t1<<1) * t2) >> 11
	b := ((((rawT>>4 - t1) * (rawT>>4 - t1)) >> 12) * t3) >> 14
	fine := a + b
	tempC = float64((fine*5+128)>>8) / 100

	v := fine - 76800
	dry := (rawH<<14 - h4<<20 - h5*v + 16384) >> 15
	scale := ((((v*h6)>>10*((v*h3)>>11+32768))>>10+2097152)*h2 + 8192) >> 14
	v = dry * scale
	v -= (((v >> 15) * (v >> 15)) >> 7 * h1) >> 4
	v = min(max(v, 0), 419430400)
	return tempC, float64(v>>12) / 1024
}

// TestWorkedExample is the only one that Bosch publishes: BST-BMP280-DS001,
// section 3.12, makes 25.08 °C and a fine number of 128422 of the raw number
// 519888.
func TestWorkedExample(t *testing.T) {
	c := trim{t1: 27504, t2: 26435, t3: -1000}
	tempC, fine := c.temperature(519888)
	if math.Abs(tempC-25.08) > 0.005 || math.Abs(fine-128422) > 1 {
		t.Errorf("got %.4f °C, %.1f", tempC, fine)
	}
	if tempC, _ := inWholeNumbers(519888, 0); tempC != 25.08 {
		t.Errorf("in whole numbers: %v °C", tempC)
	}
}

// TestMakersDriver holds the driver to Bosch's own (BME280_SensorAPI, in floating
// point), which was compiled and run on the emulator: of the raw numbers 519889
// and 0x6A01 it made 25.0828 °C and 34.7466 %.
func TestMakersDriver(t *testing.T) {
	var c trim
	bme280test.New(true).Do(func(m *bustest.Memory) { c = trimOf(m.Bytes[regTrim:]) })
	tempC, fine := c.temperature(519889)
	if percent := c.humidity(0x6A01, fine); math.Abs(tempC-25.0828) > 5e-5 || math.Abs(percent-34.7466) > 5e-5 {
		t.Errorf("got %.5f °C, %.5f %%", tempC, percent)
	}
}

// TestFormulas holds the driver's formulas to the data sheet's other ones over
// the whole range.
func TestFormulas(t *testing.T) {
	chip := bme280test.New(true)
	var c trim
	chip.Do(func(m *bustest.Memory) { c = trimOf(m.Bytes[regTrim:]) })
	want := trim{bme280test.T1, bme280test.T2, bme280test.T3, bme280test.H1, bme280test.H2, bme280test.H3, bme280test.H4, bme280test.H5, bme280test.H6}
	if c != want {
		t.Fatalf("the factory's numbers: got %+v, want %+v", c, want)
	}
	for rawT := int32(350_000); rawT < 700_000; rawT += 1009 {
		for rawH := int32(0); rawH < 1<<16; rawH += 499 {
			tempC, fine := c.temperature(int(rawT))
			percent := c.humidity(int(rawH), fine)
			wantC, wantP := inWholeNumbers(rawT, rawH)
			if math.Abs(tempC-wantC) > 0.011 || math.Abs(percent-wantP) > 0.05 {
				t.Fatalf("raw %d, %d: got %.3f °C, %.3f %%, want %.3f, %.3f", rawT, rawH, tempC, percent, wantC, wantP)
			}
		}
	}
}

// TestSignedTrim decodes numbers below zero: H4 and H5 of 12 bits each share
// the byte 0xE5 (table 16).
func TestSignedTrim(t *testing.T) {
	b := make([]byte, regConfig-regTrim+1)
	e := b[regTrimE1-regTrim:]
	e[3], e[4], e[5], e[6] = 0xEA, 0x23, 0xFE, 0xE2 // H4 = 0xEA3 = -349, H5 = 0xFE2 = -30, H6 = -30
	if c := trimOf(b); c.h4 != -349 || c.h5 != -30 || c.h6 != -30 {
		t.Errorf("got %+v", c)
	}
}

// rig wires a driver to a chip for the tests that all drivers pass.
func rig(kind Kind) func(testing.TB) bustest.Rig {
	return func(testing.TB) bustest.Rig {
		chip := bme280test.New(kind == BME280)
		b := bustest.New("I2C1", chip)
		raw := func(n int) int32 { return 500_000 + 3200*int32(n%10) }
		return bustest.Rig{
			Source: New(b, Addr, kind).Temperature(), Bus: b, Core: chip.Core, Name: []string{"bme280", "bmp280"}[kind] + " I2C1 0x76: ",
			Vary: func(n int) { chip.Air(int(raw(n)), 0x6A00+n%10) },
			Good: func(n int, r sensor.Reading) bool {
				want, _ := inWholeNumbers(raw(n), 0)
				return math.Abs(r.Value-want) < 0.012
			},
		}
	}
}

// damp is the rig of the hygrometer.
func damp(tb testing.TB) bustest.Rig {
	chip := bme280test.New(true)
	b := bustest.New("I2C1", chip)
	raw := func(n int) int32 { return 0x5A00 + 0x180*int32(n%10) }
	return bustest.Rig{
		Source: New(b, Addr, BME280).Humidity(), Bus: b, Core: chip.Core, Name: "bme280 I2C1 0x76: ",
		Vary: func(n int) { chip.Air(519888, int(raw(n))) },
		Good: func(n int, r sensor.Reading) bool {
			_, want := inWholeNumbers(519888, raw(n))
			return math.Abs(r.Value-want) < 0.06
		},
	}
}

func TestFaults(t *testing.T) {
	t.Run("bme280", func(t *testing.T) { bustest.Faults(t, rig(BME280)) })
	t.Run("bmp280", func(t *testing.T) { bustest.Faults(t, rig(BMP280)) })
}

func TestNoWrongValue(t *testing.T) {
	t.Run("bme280", func(t *testing.T) { bustest.Campaign(t, rig(BME280)) })
	t.Run("bmp280", func(t *testing.T) { bustest.Campaign(t, rig(BMP280)) })
	t.Run("damp", func(t *testing.T) { bustest.Campaign(t, damp) })
}

// FuzzReplies feeds replies of the fuzzer's; see bustest.Fuzz.
func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rig(BME280), -40, 85) }

func TestBothQuantities(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", bme280test.New(true))
		d := New(b, Addr, BME280)
		temp, err := d.Temperature().Read(t.Context())
		if err != nil || math.Abs(temp.Value-25.08) > 0.01 {
			t.Fatalf("got %+v, %v", temp, err)
		}
		transfers := b.Count()
		_, want := inWholeNumbers(519888, 0x6A00)
		rh, err := d.Humidity().Read(t.Context())
		if err != nil || math.Abs(rh.Value-want) > 0.05 || rh.Quantity != sensor.Humidity || !rh.At.Equal(temp.At) || b.Count() != transfers {
			t.Errorf("got %+v, %v, want %.2f", rh, err, want)
		}
	})
}

// TestOtherChip refuses the BMP280 that is sold as a BME280, and the other way
// about.
func TestOtherChip(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for kind, chip := range map[Kind]*bme280test.Chip{BME280: bme280test.New(false), BMP280: bme280test.New(true)} {
			if r, err := New(bustest.New("I2C1", chip), Addr, kind).Temperature().Read(t.Context()); !errors.Is(err, bus.ErrOther) {
				t.Errorf("got %+v, %v", r, err)
			}
		}
	})
}

// TestMeasuresNoMore lets the chip take orders and not carry them out: the old
// result is not taken for a new one.
func TestMeasuresNoMore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := bme280test.New(true)
		s := New(bustest.New("I2C1", chip), Addr, BME280).Temperature()
		if _, err := s.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		chip.Stall(true)
		if r, err := s.Read(t.Context()); !errors.Is(err, bus.ErrStale) {
			t.Errorf("got %+v, %v", r, err)
		}
		chip.Stall(false)
		if _, err := s.Read(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

// TestEndsInOnes measures again where the lowest byte of the humidity is 0xFF,
// which a transfer that broke off shows too, and gives up when it stays so.
func TestEndsInOnes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := bme280test.New(true)
		chip.Air(519888, 0x6AFD) // every third one flickers to 0x6AFF
		b := bustest.New("I2C1", chip)
		s := New(b, Addr, BME280).Humidity()
		for range 10 {
			if _, err := s.Read(t.Context()); err != nil {
				t.Error(err)
			}
			time.Sleep(2 * time.Second)
		}
		b.Corrupt(func(_ uint16, _, r []byte) {
			if len(r) == 11 {
				r[10] = 0xFF
			}
		})
		if r, err := s.Read(t.Context()); !errors.Is(err, errOnes) {
			t.Errorf("got %+v, %v", r, err)
		}
	})
}

func TestOutOfRange(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := bme280test.New(false)
		chip.Air(900_000, 0)
		_, err := New(bustest.New("I2C1", chip), Addr, BMP280).Temperature().Read(t.Context())
		if err == nil || !strings.Contains(err.Error(), "lies outside -40 to 85") {
			t.Errorf("got %v", err)
		}
	})
}

// TestTakes keeps the time of a reading: two measurements, and little besides.
func TestTakes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := New(bustest.New("I2C1", bme280test.New(true)), Addr, BME280).Temperature()
		s.Read(t.Context())
		start := time.Now()
		if _, err := s.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		if took := time.Since(start); took < 2*11*time.Millisecond || took > 2*takes+2*time.Millisecond {
			t.Errorf("a reading took %v", took)
		}
	})
}

func Example() {
	d := New(bustest.New("I2C1", bme280test.New(true)), Addr, BME280)
	temp, err := d.Temperature().Read(context.Background())
	if err != nil {
		fmt.Println(err)
		return
	}
	rh, err := d.Humidity().Read(context.Background())
	fmt.Printf("%.1f °C, %.0f %%, %v\n", temp.Value, rh.Value, err)
	// Output: 25.1 °C, 35 %, <nil>
}
