package ads1115

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"leavend/sensor"
	"leavend/sensor/ads1115/ads1115test"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/ntc"
)

var thermistor = Thermistor{Input: 1, Divider: ntc.Divider{Ohms: 10e3}, Curve: ntc.Beta{OhmsAt25: 10e3, B: 3950}}

// volts returns what stands across a thermistor below 10 kΩ on 3.3 V.
func volts(tempC float64) float64 {
	ohms := 10e3 * math.Exp(3950*(1/(tempC+273.15)-1/298.15))
	return 3.3 * ohms / (ohms + 10e3)
}

// rig wires a driver to a chip for the tests that all drivers pass.
func rig(t testing.TB) bustest.Rig {
	chip := ads1115test.New(Addr, [4]float64{})
	b := bustest.New("I2C1", chip)
	p, err := New(b, Addr).Probe(thermistor)
	if err != nil {
		t.Fatal(err)
	}
	return bustest.Rig{
		Source: p, Bus: b, Core: chip.Core, Name: "ads1115 I2C1 0x48 input 1: ",
		Vary: func(n int) { chip.Apply(1, volts(20+float64(n%10))) },
		// The two gains may disagree by 0.1 %, and so may a wrong one.
		Good: func(n int, r sensor.Reading) bool { return math.Abs(r.Value-20-float64(n%10)) < 0.1 },
	}
}

func TestFaults(t *testing.T) { bustest.Faults(t, rig) }

func TestNoWrongValue(t *testing.T) { bustest.Campaign(t, rig) }

// TestDecode holds the scale to TI's documents: 6E90h at ±2.048 V is 1.7690 V
// (SBAA565 section 4.2.3); one step is 187.5, 125, 62.5, 31.25, 15.625 and
// 7.8125 µV for ±6.144 to ±0.256 V, and 8000h is minus the full scale
// (ADS111x data sheets, table 8-1 and "Data Format").
func TestDecode(t *testing.T) {
	if got := decode(0x6E90, 2.048); math.Abs(got-1.7690) > 5e-5 {
		t.Errorf("6E90h: got %v V, want 1.7690", got)
	}
	for full, step := range map[float64]float64{6.144: 187.5, 4.096: 125, 2.048: 62.5, 1.024: 31.25, 0.512: 15.625, 0.256: 7.8125} {
		if got := decode(1, full) * 1e6; math.Abs(got-step) > 1e-9 {
			t.Errorf("±%v V: one step is %v µV, want %v", full, got, step)
		}
		if got := decode(0x8000, full); got != -full {
			t.Errorf("±%v V: 8000h is %v", full, got)
		}
		if got := decode(0x7FFF, full); math.Abs(got-full+step*1e-6) > 1e-12 {
			t.Errorf("±%v V: 7FFFh is %v", full, got)
		}
	}
}

func TestProbe(t *testing.T) {
	bySupply := thermistor
	bySupply.SupplyInput = 4
	tests := []struct {
		name  string
		th    Thermistor
		volts [4]float64
		want  float64
		err   string
	}{
		{"a warm jar", thermistor, [4]float64{1: volts(26)}, 26, ""},
		{"the supply measured, five percent low", bySupply, [4]float64{1: volts(26) * 0.95, 3: 3.3 * 0.95}, 26, ""},
		{"nothing plugged in", thermistor, [4]float64{1: 3.3}, 0, ntc.ErrOpen.Error()},
		{"water in the plug", thermistor, [4]float64{1: 0.01}, 0, ntc.ErrShort.Error()},
		{"below ground", thermistor, [4]float64{1: -0.3}, 0, ntc.ErrShort.Error()},
		{"in the oven", thermistor, [4]float64{1: volts(130)}, 0, "lies outside -40 to 125"},
		{"no supply", bySupply, [4]float64{1: 1}, 0, "the divider's supply is 0.00 V"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p, err := New(bustest.New("I2C1", ads1115test.New(Addr, tt.volts)), Addr).Probe(tt.th)
				if err != nil {
					t.Fatal(err)
				}
				time.Sleep(time.Millisecond)
				r, err := p.Read(t.Context())
				if math.Abs(r.Value-tt.want) > 0.005 || (err == nil) != (tt.err == "") || err != nil && !strings.Contains(err.Error(), tt.err) {
					t.Errorf("got %v, %v, want %v, %q", r.Value, err, tt.want, tt.err)
				}
			})
		})
	}
}

func TestResetBetween(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := ads1115test.New(Addr, [4]float64{1: volts(26)})
		p, _ := New(bustest.New("I2C1", chip), Addr).Probe(thermistor)
		time.Sleep(time.Millisecond)
		go func() { time.Sleep(30 * time.Millisecond); chip.Reset() }()
		if _, err := p.Read(t.Context()); !errors.Is(err, ErrReset) {
			t.Errorf("got %v", err)
		}
	})
}

func TestProbeRefuses(t *testing.T) {
	for name, change := range map[string]func(*Thermistor){
		"a fifth input":        func(th *Thermistor) { th.Input = 4 },
		"supply on the input":  func(th *Thermistor) { th.SupplyInput = 2 },
		"no fixed resistor":    func(th *Thermistor) { th.Divider.Ohms = 0 },
		"a supply of 5 V":      func(th *Thermistor) { th.SupplyV = 5 },
		"a curve left unnamed": func(th *Thermistor) { th.Curve = nil },
	} {
		th := thermistor
		change(&th)
		if _, err := New(bustest.New("I2C1"), Addr).Probe(th); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func Example() {
	b := bustest.New("I2C1", ads1115test.New(Addr, [4]float64{1.65}))
	time.Sleep(time.Millisecond) // The chip boots.
	p, err := New(b, Addr).Probe(Thermistor{Divider: ntc.Divider{Ohms: 10e3}, Curve: ntc.Beta{OhmsAt25: 10e3, B: 3950}})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := p.Read(context.Background())
	fmt.Printf("%.1f °C, %v\n", r.Value, err)
	// Output: 25.0 °C, <nil>
}

func FuzzReplies(f *testing.F) { bustest.Fuzz(f, rig, -40, 125) }

// TestTraffic plays traffic back that was made from the data sheet, byte for
// byte (SBAS444E, table "Config Register Field Descriptions"): input 1 against
// ground, single shot, 16 conversions a second, comparator off, at ±4.096 V and
// ±6.144 V. 1.65 V is 3390h and 2260h.
func TestTraffic(t *testing.T) {
	var ops []i2ctest.IO
	for _, c := range []struct{ config, code [2]byte }{
		{[2]byte{0xD3, 0x23}, [2]byte{0x33, 0x90}},
		{[2]byte{0xD1, 0x23}, [2]byte{0x22, 0x60}},
	} {
		done := i2ctest.IO{Addr: 0x48, W: []byte{1}, R: c.config[:]}
		code := i2ctest.IO{Addr: 0x48, W: []byte{0}, R: c.code[:]}
		ops = append(ops, i2ctest.IO{Addr: 0x48, W: []byte{1, c.config[0], c.config[1]}}, done, done, code, code)
	}
	b := &i2ctest.Playback{DontPanic: true, Ops: ops}
	p, err := New(b, Addr).Probe(thermistor)
	if err != nil {
		t.Fatal(err)
	}
	if r, err := p.Read(t.Context()); err != nil || math.Abs(r.Value-25) > 0.01 {
		t.Errorf("got %v, %v", r.Value, err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
}
