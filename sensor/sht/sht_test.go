package sht

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/sht/shttest"
)

// rig wires a driver to a chip for the tests that all drivers pass.
func rig(four bool) func(testing.TB) bustest.Rig {
	return func(testing.TB) bustest.Rig {
		chip := shttest.New(four, Addr, 25, 60)
		b := bustest.New("I2C1", chip)
		kind, name := SHT3x, "sht3x"
		if four {
			kind, name = SHT4x, "sht4x"
		}
		return bustest.Rig{
			Source: New(b, Addr, kind).Temperature(), Bus: b, Name: name + " I2C1 0x44: ",
			Vary: func(n int) { chip.Air(20+float64(n%10), 60) },
			Good: func(n int, r sensor.Reading) bool { return math.Abs(r.Value-20-float64(n%10)) < 0.01 },
		}
	}
}

func TestFaults(t *testing.T) {
	t.Run("sht3x", func(t *testing.T) { bustest.Faults(t, rig(false)) })
	t.Run("sht4x", func(t *testing.T) { bustest.Faults(t, rig(true)) })
}

func TestNoWrongValue(t *testing.T) {
	t.Run("sht3x", func(t *testing.T) { bustest.Campaign(t, rig(false)) })
	t.Run("sht4x", func(t *testing.T) { bustest.Campaign(t, rig(true)) })
}

// TestChecksum holds both checksums, ours and the emulator's, to the data
// sheet of the SHT3x, table 20, and to that of the SHTC3 for zero.
func TestChecksum(t *testing.T) {
	for _, tt := range []struct{ hi, lo, want byte }{{0xBE, 0xEF, 0x92}, {0x00, 0x00, 0x81}} {
		if got := CRC([]byte{tt.hi, tt.lo}); got != tt.want {
			t.Errorf("%02X%02X: got %02X, want %02X", tt.hi, tt.lo, got, tt.want)
		}
	}
	if got := CRC([]byte{0x00}); got != 0xAC {
		t.Errorf("00: got %02X, want AC", got)
	}
	for v := range 1 << 16 {
		hi, lo := byte(v>>8), byte(v)
		if a, b := CRC([]byte{hi, lo}), shttest.Checksum(hi, lo); a != b {
			t.Fatalf("%04X: ours %02X, long division %02X", v, a, b)
		}
	}
}

// TestConversion holds the scales to the data sheets: raw 6666h is 25.0 °C and
// 40 % (SHT3x-DIS section 4.13); the ends of the scales follow from the
// formulas there and in the SHT4x's section 4.6.
func TestConversion(t *testing.T) {
	tests := []struct {
		kind           Kind
		raw            uint16
		tempC, percent float64
	}{
		{SHT3x, 0x6666, 25, 40},
		{SHT4x, 0x6666, 25, 44},
		{SHT4x, 0x0C4A, -36.6, 0},
		{SHT3x, 0xF000, 119.06, 93.75},
	}
	for _, tt := range tests {
		d := New(bustest.New("I2C1"), Addr, tt.kind)
		hi, lo := byte(tt.raw>>8), byte(tt.raw)
		crc := CRC([]byte{hi, lo})
		tempC, percent := d.decode([6]byte{hi, lo, crc, hi, lo, crc})
		if math.Abs(tempC-tt.tempC) > 0.01 || math.Abs(percent-tt.percent) > 0.01 || d.reg.Take() != nil {
			t.Errorf("%v %04X: got %.3f °C, %.3f %%, want %v, %v", tt.kind, tt.raw, tempC, percent, tt.tempC, tt.percent)
		}
	}
}

func TestOneMeasurementServesBoth(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", shttest.New(false, Addr, 25, 60))
		d := New(b, Addr, SHT3x)
		temp, err := d.Temperature().Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		transfers := b.Count()
		rh, err := d.Humidity().Read(t.Context())
		if err != nil || math.Abs(rh.Value-60) > 0.01 || rh.Quantity != sensor.Humidity || !rh.At.Equal(temp.At) {
			t.Errorf("got %+v, %v", rh, err)
		}
		if b.Count() != transfers {
			t.Error("the humidity was measured again")
		}
		time.Sleep(2 * time.Second)
		if rh, err = d.Humidity().Read(t.Context()); err != nil || !rh.At.After(temp.At) {
			t.Errorf("two seconds on: %+v, %v", rh, err)
		}
	})
}

func TestDewReadsAsHundred(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := New(bustest.New("I2C1", shttest.New(true, Addr, 25, 112)), Addr, SHT4x)
		if r, err := d.Humidity().Read(t.Context()); err != nil || r.Value != 100 {
			t.Errorf("got %v, %v", r.Value, err)
		}
	})
}

func TestChecksumError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bustest.New("I2C1", shttest.New(false, Addr, 25, 60))
		b.Corrupt(func(_ uint16, _, r []byte) {
			if len(r) == 6 {
				r[5] ^= 1
			}
		})
		_, err := New(b, Addr, SHT3x).Humidity().Read(t.Context())
		if !errors.Is(err, ErrChecksum) {
			t.Errorf("got %v", err)
		}
	})
}

func Example() {
	b := bustest.New("I2C1", shttest.New(true, Addr, 26, 75))
	d := New(b, Addr, SHT4x)
	temp, err := d.Temperature().Read(context.Background())
	if err != nil {
		fmt.Println(err)
		return
	}
	rh, err := d.Humidity().Read(context.Background())
	fmt.Printf("%.1f °C, %.0f %%, %v\n", temp.Value, rh.Value, err)
	// Output: 26.0 °C, 75 %, <nil>
}

func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rig(false), -40, 125) }

// TestTraffic plays traffic back that was made from the data sheet, byte for
// byte (SHT3x-DIS tables 9 and 14 and figure "single shot"): soft reset, two
// measurements of 25 °C and 40 %, one step apart.
func TestTraffic(t *testing.T) {
	word := func(hi, lo byte) []byte { return []byte{hi, lo, CRC([]byte{hi, lo})} }
	b := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: 0x44, W: []byte{0x30, 0xA2}},
		{Addr: 0x44, W: []byte{0x24, 0x00}},
		{Addr: 0x44, R: append(word(0x66, 0x66), word(0x66, 0x66)...)},
		{Addr: 0x44, W: []byte{0x24, 0x00}},
		{Addr: 0x44, R: append(word(0x66, 0x67), word(0x66, 0x66)...)},
	}}
	r, err := New(b, Addr, SHT3x).Temperature().Read(t.Context())
	if err != nil || math.Abs(r.Value-25) > 0.002 {
		t.Errorf("got %v, %v", r.Value, err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
}
