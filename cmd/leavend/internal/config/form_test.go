package config

import (
	"testing"
	"time"
)

func TestDegreesAsTheBakerReadsThem(t *testing.T) {
	metric, us := Default(), Default()
	us.Units, us.Clock = US, 12
	for _, tt := range []struct {
		name, got, want string
	}{
		{"a temperature", metric.Degrees(25.04), "25.0 °C"}, {"in the United States", us.Degrees(25), "77.0 °F"},
		{"freezing", us.Degrees(0), "32.0 °F"}, {"where both agree", us.Degrees(-40), "-40.0 °F"},
	} {
		if tt.got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, tt.got, tt.want)
		}
	}
	if r := us.Reader(); !r.Fahrenheit || !r.Inches || !r.Ounces || !r.Hours12 || r.Language != "en" || r.Zone != time.Local {
		t.Errorf("a reader of %+v", r)
	}
	if r := metric.Reader(); r.Fahrenheit || r.Inches || r.Hours12 {
		t.Errorf("a metric reader of %+v", r)
	}
}
