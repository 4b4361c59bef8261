package ntc_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"leavend/sensor/ntc"
)

// TestSteinhartHart holds the equation to the table of a 10 kΩ thermistor in the
// manual of a laboratory laser controller, LDT-5525, appendix A, with constants
// that were fitted to three of its points elsewhere. (Its value at 40 °C is a
// misprint and left out.)
func TestSteinhartHart(t *testing.T) {
	c := ntc.SteinhartHart{A: 1.104159125e-3, B: 2.389179467e-4, C: 6.931626526e-8}
	for tempC, ohms := range map[float64]float64{0: 32128, 10: 19549, 20: 12262, 25: 9814, 30: 7908, 50: 3542} {
		if got := c.TempC(ohms); math.Abs(got-tempC) > 0.0023 {
			t.Errorf("%v Ω: got %.4f °C, want %v", ohms, got, tempC)
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

func ExampleSteinhartHart() {
	c := ntc.SteinhartHart{A: 1.104159125e-3, B: 2.389179467e-4, C: 6.931626526e-8}
	fmt.Printf("%.2f °C\n", c.TempC(7908))
	// Output: 30.00 °C
}
