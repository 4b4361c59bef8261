package check

import (
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
)

func TestPromiseIsSaid(t *testing.T) {
	for _, tt := range []struct {
		name      string
		watts, kg float64
		level     Level
		says      string
	}{
		{"neither is given", 0, 0, Note, "not both given"},
		{"a weight alone", 0, 1, Note, "not both given"},
		{"a weak mat", 8, 1, Pass, "no vessel above 35 °C however wrong the probe reads"},
		{"a strong mat", 40, 0.25, Note, "no more than 7"},
	} {
		r := checkPromise(config.Mat{Watts: tt.watts, LoadKg: tt.kg, MaxDuty: 0.9})
		if r.Level != tt.level || !strings.Contains(english(r.Says), tt.says) {
			t.Errorf("%s: %s %q, want %s with %q", tt.name, r.Level, english(r.Says), tt.level, tt.says)
		}
	}
}

func TestSwitchLifeIsSaid(t *testing.T) {
	r := checkSwitch(config.Mat{SwitchLife: 100_000, SwitchesPerHour: 6})
	if !strings.Contains(english(r.Says), "1.9 years") {
		t.Errorf("100 000 switchings at 6 an hour: %q, want 1.9 years", english(r.Says))
	}
}
