package config

import (
	"math"
	"testing"
	"time"
)

// valueOf is what the TOML text x = VALUE holds.
func valueOf(t *testing.T, value string) *node {
	t.Helper()
	root, problems, _ := parse([]byte("x = " + value))
	if len(problems) > 0 {
		t.Fatalf("%s: %v", value, problems)
	}
	return root.fields["x"]
}

// quantities compares what is read of TOML values; NaN wants a refusal.
func quantities(t *testing.T, read func(*node) (float64, bool), want map[string]float64) {
	t.Helper()
	for value, want := range want {
		got, ok := read(valueOf(t, value))
		if ok == math.IsNaN(want) || ok && math.Abs(got-want) > 1e-9 {
			t.Errorf("%s is %v, %v, want %v", value, got, ok, want)
		}
	}
}

var refused = math.NaN()

// The conversions are exact by definition: an inch is 25.4 mm, and a degree
// Fahrenheit 5/9 of a degree Celsius, with 32 °F at 0 °C (NIST SP 811).
func TestTemperatures(t *testing.T) {
	quantities(t, func(n *node) (float64, bool) { return n.celsius(false) }, map[string]float64{
		"26": 26, "25.5": 25.5, "-3": -3, "1_0": 10, `"26C"`: 26, `"26 °C"`: 26, `"26 c"`: 26, `"32F"`: 0, `"212 °F"`: 100, `"-40f"`: -40,
		`"26"`: refused, `"warm"`: refused, `"26 K"`: refused, `"C"`: refused, `""`: refused, "true": refused, "[26]": refused, `"1e999C"`: refused, `"nanC"`: refused,
	})
}

func TestDegrees(t *testing.T) {
	quantities(t, func(n *node) (float64, bool) { return n.celsius(true) }, map[string]float64{
		"0.3": 0.3, `"0.9F"`: 0.5, `"18 °F"`: 10, `"2C"`: 2, `"-9F"`: -5, `"x"`: refused,
	})
}

func TestLengths(t *testing.T) {
	quantities(t, (*node).millimetres, map[string]float64{
		"165": 165, "165.5": 165.5, `"165mm"`: 165, `"16.5 cm"`: 165, `"0.165m"`: 165, `"6.5in"`: 165.1, `"6.5 \""`: 165.1,
		`"6 ft"`: refused, `"165"`: refused, `"mm"`: refused, `"six in"`: refused, "false": refused,
	})
}

func TestNumbers(t *testing.T) {
	quantities(t, (*node).number, map[string]float64{
		"3": 3, "3.5": 3.5, "1e3": 1000, "1_000.5": 1000.5, "0x10": 16, "inf": math.Inf(1),
		`"3"`: refused, "true": refused, "[3]": refused,
	})
}

func TestWholeNumbers(t *testing.T) {
	for value, want := range map[string]int{"17": 17, "-1": -1, "0x29": 41, "0b101": 5, "0o17": 15, "1_000": 1000} {
		if got, ok := valueOf(t, value).whole(); !ok || got != want {
			t.Errorf("%s is %d, %v", value, got, ok)
		}
	}
	for _, value := range []string{"3.0", `"3"`, "true", "07:32:00"} {
		if got, ok := valueOf(t, value).whole(); ok {
			t.Errorf("%s is read as %d", value, got)
		}
	}
}

func TestDurations(t *testing.T) {
	for value, want := range map[string]time.Duration{
		`"90s"`: 90 * time.Second, `"1h30m"`: 90 * time.Minute, `"1h 30m"`: 90 * time.Minute, `"100ms"`: 100 * time.Millisecond, `"0s"`: 0, `"-5m"`: -5 * time.Minute,
	} {
		if got, ok := valueOf(t, value).duration(); !ok || got != want {
			t.Errorf("%s is %v, %v", value, got, ok)
		}
	}
	for _, value := range []string{"90", `"90"`, `"2 days"`, `""`, "07:32:00"} {
		if got, ok := valueOf(t, value).duration(); ok {
			t.Errorf("%s is read as %v", value, got)
		}
	}
}

func TestClockTimes(t *testing.T) {
	for value, want := range map[string]string{
		`"22:30"`: "22:30", `"06:05"`: "06:05", `"6:05"`: "06:05", "22:30:00": "22:30", `"10:30 PM"`: "22:30", `"12:00am"`: "00:00", `"12:00PM"`: "12:00", `"1:15 pm"`: "13:15",
	} {
		if got, ok := valueOf(t, value).clockTime(); !ok || got.String() != want {
			t.Errorf("%s is %v, %v, want %s", value, got, ok, want)
		}
	}
	for _, value := range []string{`"24:00"`, `"22:60"`, `"half past ten"`, `"13:00 PM"`, "2230", `""`, "true"} {
		if got, ok := valueOf(t, value).clockTime(); ok {
			t.Errorf("%s is read as %v", value, got)
		}
	}
}
