package publish

import (
	"math"
	"strings"
	"testing"
)

func TestParseWish(t *testing.T) {
	tests := []struct {
		kind WishKind
		text string
		want Wish
		ok   bool
	}{
		{WishSetpoint, "27.5", Wish{Value: 27.5}, true},
		{WishSetpoint, " 27\n", Wish{Value: 27}, true},
		{WishSetpoint, "1e999", Wish{}, false},
		{WishSetpoint, "NaN", Wish{}, false},
		{WishSetpoint, "-Inf", Wish{}, false},
		{WishSetpoint, "27,5", Wish{}, false},
		{WishSetpoint, "", Wish{}, false},
		{WishSetpoint, strings.Repeat("0", 65), Wish{}, false},
		{WishMode, "HEAT", Wish{Mode: ModeHeat}, true},
		{WishMode, "off", Wish{Mode: ModeOff}, true},
		{WishMode, "on", Wish{}, false},
		{WishMode, "", Wish{}, false},
		{WishFed, "PRESS", Wish{}, true},
		{WishFed, "1", Wish{}, true},
		{WishFed, "", Wish{}, false},
		{WishFed, "OFF", Wish{}, false},
		{WishReady, " 20:00 ", Wish{Text: "20:00"}, true},
		{WishReady, "OFF", Wish{}, true},
		{WishReady, "", Wish{}, false},
		{WishSeen, "PRESS", Wish{}, true},
		{WishSeen, "no", Wish{}, false},
		{"colour", "red", Wish{}, false},
	}
	for _, tt := range tests {
		got, err := parseWish("x", tt.kind, tt.text)
		if (err == nil) != tt.ok {
			t.Errorf("parseWish(%s, %q): %v, want ok %v", tt.kind, tt.text, err, tt.ok)
			continue
		}
		if tt.want.Kind, tt.want.Subject = tt.kind, "x"; tt.ok && got != tt.want {
			t.Errorf("parseWish(%s, %q) = %+v, want %+v", tt.kind, tt.text, got, tt.want)
		}
	}
}

func FuzzWish(f *testing.F) {
	f.Add("27.5")
	f.Add("heat")
	f.Fuzz(func(t *testing.T, text string) {
		if w, err := parseWish("mat", WishSetpoint, text); err == nil && (math.IsNaN(w.Value) || math.IsInf(w.Value, 0)) {
			t.Errorf("setpoint %q = %v", text, w.Value)
		}
		if w, err := parseWish("mat", WishMode, text); err == nil && w.Mode != ModeHeat && w.Mode != ModeOff {
			t.Errorf("mode %q = %q", text, w.Mode)
		}
	})
}
