package sensor_test

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor/ads1115/ads1115test"
	"leavend/sensor/bme280/bme280test"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/vl53l0x"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

// wired is an emulated chip on a bus, as a driver of other people sees it.
type wired struct {
	*bustest.Bus
	t    *testing.T
	addr uint16
}

func (w wired) write(b ...byte) {
	w.t.Helper()
	if err := w.Tx(w.addr, b, nil); err != nil {
		w.t.Fatalf("write % x: %v", b, err)
	}
}

func (w wired) read(n int, b ...byte) []byte {
	w.t.Helper()
	r := make([]byte, n)
	if err := w.Tx(w.addr, b, r); err != nil {
		w.t.Fatalf("read % x: %v", b, err)
	}
	return r
}

// TestPeers makes the transfers that drivers of other people make and ours do
// not, and wants the emulators to answer as those drivers expect of a chip:
// Linux 6.1 (sht3x, ti-ads1015, bmp280, vl53l0x-i2c), ST's ultra lite drivers
// (VL53L1X 3.5.0, VL53L4CD 1.0.0) and a widely used one of the VL53L0X. The
// kernel itself meets them in deploy/board/bus.sh.
func TestPeers(t *testing.T) {
	tests := []struct {
		name string
		chip func() bustest.Chip
		addr uint16
		play func(t *testing.T, w wired)
	}{
		{"sht3x clears the status, and reads 15 ms after its command", func() bustest.Chip { return shttest.New(false, 0x44, 25, 60) }, 0x44, func(t *testing.T, w wired) {
			w.write(0x30, 0x41)
			if r := w.read(3, 0xF3, 0x2D); r[0] != 0 || r[1] != 0 {
				t.Errorf("status % x", r)
			}
			if r := w.read(3, 0xE1, 0x1F); r[0] != 0xCD || r[1] != 0x33 {
				t.Errorf("limit % x", r)
			}
			w.write(0x24, 0x00)
			time.Sleep(15 * time.Millisecond)
			w.read(6)
		}},
		{"ads1115 converts in a row", func() bustest.Chip { return ads1115test.New(0x48, [4]float64{1, 2, 0.5, 3}) }, 0x48, func(t *testing.T, w wired) {
			// 128 a second, ±2.048 V: an input against ground, then a difference.
			for config, want := range map[uint16]float64{0x6483: 0.5, 0x0483: -1, 0x4483: 1} {
				w.write(1, byte(config>>8), byte(config))
				time.Sleep(9 * time.Millisecond)
				for range 2 {
					r := w.read(2, 0)
					if got := float64(int16(uint16(r[0])<<8|uint16(r[1]))) / 32768 * 2.048; math.Abs(got-want) > 1e-3 {
						t.Errorf("0x%04x: %.3f V, want %v", config, got, want)
					}
				}
			}
		}},
		{"bme280 knows its pressure", func() bustest.Chip { return bme280test.New(true) }, 0x76, func(t *testing.T, w wired) {
			w.write(0xF4, 0x2B) // one sample each of temperature and pressure; normal mode
			time.Sleep(20 * time.Millisecond)
			r := w.read(6, 0xF7)
			raw := func(b []byte) float64 { return float64(int(b[0])<<12 | int(b[1])<<4 | int(b[2])>>4) }
			if got := pressure(w.read(24, 0x88), raw(r[3:]), raw(r)); !(math.Abs(got-100653.27) <= 3) {
				t.Errorf("%.2f Pa, want 100653.27 (BST-BMP280-DS001, section 3.12)", got)
			}
			time.Sleep(20 * time.Millisecond)
			if again := w.read(6, 0xF7); string(again) == string(r) {
				t.Error("in normal mode it measures once")
			}
		}},
		{"vl53l1x and vl53l4cd tell their clocks", func() bustest.Chip { return vl53l1xtest.NewL4CD(vl53l1xtest.Sample{}) }, 0x29, func(t *testing.T, w wired) {
			if r := w.read(2, 0x00, 0x06); r[0] == 0 {
				t.Errorf("fast clock % x", r)
			}
			if r := w.read(2, 0x00, 0xDE); r[0]&3 == 0 && r[1] == 0 {
				t.Errorf("slow clock % x", r)
			}
		}},
		{"vl53l0x says when it has begun and when it is ready", func() bustest.Chip {
			return vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 173, SignalMcps: 20, Device: 11})
		}, 0x29, func(t *testing.T, w wired) {
			d, err := vl53l0x.New(w, 0x29, vl53l0x.Opts{BudgetMS: 33})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := d.Read(t.Context()); err != nil {
				t.Fatal(err)
			}
			w.write(0x00, 0x01)
			until := func(what string, done func() bool) {
				for range 100 {
					if done() {
						return
					}
					time.Sleep(time.Millisecond)
				}
				t.Fatalf("%s within 100 ms", what)
			}
			if w.read(1, 0x14)[0]&1 != 0 {
				t.Error("ready before it has measured")
			}
			until("it has not begun", func() bool { return w.read(1, 0x00)[0]&1 == 0 })
			until("it is not ready", func() bool { return w.read(1, 0x14)[0]&1 == 1 })
			if r := w.read(12, 0x14); int(r[10])<<8|int(r[11]) != 173 {
				t.Errorf("result % x", r)
			}
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bustest.New("I2C1", tt.chip())
				time.Sleep(5 * time.Millisecond) // it boots
				tt.play(t, wired{b, t, tt.addr})
			})
		})
	}
}

// pressure is the data sheet's formula in floating point (BST-BMP280-DS001,
// section 8.1), Pa, from the block of the factory's numbers.
func pressure(trim []byte, rawT, rawP float64) float64 {
	word := func(i int) uint16 { return uint16(trim[2*i+1])<<8 | uint16(trim[2*i]) }
	p := func(n int) float64 { return float64(int16(word(2 + n))) }
	t1, t2, t3, p1 := float64(word(0)), float64(int16(word(1))), float64(int16(word(2))), float64(word(3))
	fine := (rawT/16384-t1/1024)*t2 + (rawT/131072-t1/8192)*(rawT/131072-t1/8192)*t3
	a := fine/2 - 64000
	b := a * a * p(6) / 32768
	b += a * p(5) * 2
	b = b/4 + p(4)*65536
	a = (p(3)*a*a/524288 + p(2)*a) / 524288
	a = (1 + a/32768) * p1
	out := (1048576 - rawP - b/4096) * 6250 / a
	return out + (p(9)*out*out/2147483648+out*p(8)/32768+p(7))/16
}
