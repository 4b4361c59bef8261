package ntc_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"leavend/sensor/ntc"
)

// table is that of a 10 kΩ thermistor in the manual of a laboratory laser
// controller, LDT-5525, appendix A. (Its value at 40 °C is a misprint and left
// out.)
var table = []ntc.Point{{0, 32128}, {10, 19549}, {20, 12262}, {25, 9814}, {30, 7908}, {50, 3542}}

func TestSteinhartHart(t *testing.T) {
	c, err := ntc.Fit([3]ntc.Point{{0, 32128}, {25, 9814}, {50, 3542}})
	if err != nil {
		t.Fatal(err)
	}
	// Constants of the same fit worked out independently.
	want := ntc.SteinhartHart{A: 1.104159125e-3, B: 2.389179467e-4, C: 6.931626526e-8}
	for _, v := range []struct{ got, want float64 }{{c.A, want.A}, {c.B, want.B}, {c.C, want.C}} {
		if math.Abs(v.got/v.want-1) > 1e-8 {
			t.Errorf("got %v, want %v", v.got, v.want)
		}
	}
	for _, p := range table {
		if got := c.TempC(p.Ohms); math.Abs(got-p.TempC) > 0.0023 {
			t.Errorf("%v Ω: got %.4f °C, want %v", p.Ohms, got, p.TempC)
		}
	}
}

// TestBeta checks values worked out by hand from the equation.
func TestBeta(t *testing.T) {
	c := ntc.Beta{OhmsAt25: 10e3, B: 3950}
	for ohms, want := range map[float64]float64{10e3: 25, 5e3: 41.4602, 20e3: 10.1765} {
		if got := c.TempC(ohms); math.Abs(got-want) > 5e-5 {
			t.Errorf("%v Ω: got %.4f °C, want %v", ohms, got, want)
		}
	}
}

func TestFitRefuses(t *testing.T) {
	for name, p := range map[string][3]ntc.Point{
		"two points":        {{0, 32128}, {25, 9814}, {25, 9814}},
		"a rising curve":    {{0, 1000}, {25, 2000}, {50, 4000}},
		"no resistance":     {{0, 32128}, {25, 0}, {50, 3542}},
		"not a number":      {{0, 32128}, {25, math.NaN()}, {50, 3542}},
		"below zero kelvin": {{-300, 32128}, {25, 9814}, {50, 3542}},
	} {
		if c, err := ntc.Fit(p); err == nil {
			t.Errorf("%s: fitted %+v", name, c)
		}
	}
}

func TestDivider(t *testing.T) {
	tests := []struct {
		name  string
		high  bool
		share float64
		want  float64
		err   error
	}{
		{"equal halves", false, 0.5, 10e3, nil},
		{"a third below", false, 1.0 / 3, 5e3, nil},
		{"a third below, thermistor above", true, 1.0 / 3, 20e3, nil},
		{"at the supply", false, 0.999, 0, ntc.ErrOpen},
		{"at ground", false, 0.001, 0, ntc.ErrShort},
		{"at the supply, thermistor above", true, 0.999, 0, ntc.ErrShort},
		{"at ground, thermistor above", true, 0.001, 0, ntc.ErrOpen},
		{"more than the supply", false, 1.2, 0, ntc.ErrOpen},
		{"below ground", false, -0.1, 0, ntc.ErrShort},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := ntc.Divider{Ohms: 10e3, High: tt.high}.Resistance(tt.share)
			if math.Abs(got-tt.want) > 1e-6 || !errors.Is(err, tt.err) {
				t.Errorf("got %v, %v, want %v, %v", got, err, tt.want, tt.err)
			}
		})
	}
	if _, err := (ntc.Divider{Ohms: 10e3}).Resistance(math.NaN()); err == nil {
		t.Error("no supply was accepted")
	}
}

func ExampleFit() {
	c, err := ntc.Fit([3]ntc.Point{{TempC: 0, Ohms: 32128}, {TempC: 25, Ohms: 9814}, {TempC: 50, Ohms: 3542}})
	fmt.Printf("%.2f °C, %v\n", c.TempC(7908), err)
	// Output: 30.00 °C, <nil>
}
