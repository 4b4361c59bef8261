package mqtt

import (
	"math"
	"strings"
	"testing"
)

func TestParseCommand(t *testing.T) {
	tests := []struct {
		kind CommandKind
		text string
		want Command
		ok   bool
	}{
		{CommandSetpoint, "27.5", Command{Value: 27.5}, true},
		{CommandSetpoint, " 27\n", Command{Value: 27}, true},
		{CommandSetpoint, "1e999", Command{}, false},
		{CommandSetpoint, "NaN", Command{}, false},
		{CommandSetpoint, "-Inf", Command{}, false},
		{CommandSetpoint, "27,5", Command{}, false},
		{CommandSetpoint, "", Command{}, false},
		{CommandSetpoint, strings.Repeat("0", 65), Command{}, false},
		{CommandMode, "HEAT", Command{Mode: ModeHeat}, true},
		{CommandMode, "off", Command{Mode: ModeOff}, true},
		{CommandMode, "on", Command{}, false},
		{CommandMode, "", Command{}, false},
		{CommandFed, "PRESS", Command{}, true},
		{CommandFed, "1", Command{}, true},
		{CommandFed, "", Command{}, false},
		{CommandFed, "OFF", Command{}, false},
		{CommandReady, " 20:00 ", Command{Text: "20:00"}, true},
		{CommandReady, "20:00:00", Command{Text: "20:00"}, true}, // as a hub's time control says it
		{CommandReady, "20:00", Command{Text: "20:00"}, true},
		{CommandReady, "OFF", Command{}, true},
		{CommandReady, "", Command{}, false},
		{CommandSeen, "PRESS", Command{}, true},
		{CommandSeen, "no", Command{}, false},
		{"colour", "red", Command{}, false},
	}
	for _, tt := range tests {
		got, err := parseCommand("x", tt.kind, tt.text)
		if (err == nil) != tt.ok {
			t.Errorf("parseCommand(%s, %q): %v, want ok %v", tt.kind, tt.text, err, tt.ok)
			continue
		}
		if tt.want.Kind, tt.want.Subject = tt.kind, "x"; tt.ok && got != tt.want {
			t.Errorf("parseCommand(%s, %q) = %+v, want %+v", tt.kind, tt.text, got, tt.want)
		}
	}
}

func FuzzCommand(f *testing.F) {
	f.Add("27.5")
	f.Add("heat")
	f.Fuzz(func(t *testing.T, text string) {
		if w, err := parseCommand("mat", CommandSetpoint, text); err == nil && (math.IsNaN(w.Value) || math.IsInf(w.Value, 0)) {
			t.Errorf("setpoint %q = %v", text, w.Value)
		}
		if w, err := parseCommand("mat", CommandMode, text); err == nil && w.Mode != ModeHeat && w.Mode != ModeOff {
			t.Errorf("mode %q = %q", text, w.Mode)
		}
	})
}
