package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestEditSchedule(t *testing.T) {
	night := Slot{From: 22 * 60, To: 6 * 60, SetpointC: 22}
	cool := Slot{Stage: AtTarget, Rest: true}
	weekend := Slot{From: 8 * 60, To: 20 * 60, Days: []Day{"sat", "sun"}, Stage: Rising, SetpointC: 26.5}
	const mat = "[mat]\nsetpoint_c = 25\n"
	const two = mat + `
# Nights are cool.
[[mat.schedule]]
from = "22:00" # to bed
to = "06:00"
setpoint_c = 22

# Let it cool.
[[mat.schedule]]
stage = "at-target"
rest = true

# The page.
[web]
on = true
`
	tests := []struct {
		name, text string
		slots      []Slot
		want       string // the difference
		fails      string
	}{
		{"the first ever", mat, []Slot{night}, "line 3\n+\n+[[mat.schedule]]\n+from = \"22:00\"\n+to = \"06:00\"\n+setpoint_c = 22\n", ""},
		{"without a mat's table", "clock = 24", []Slot{cool}, "line 1\n-clock = 24\n+clock = 24\n+\n+[[mat.schedule]]\n+stage = \"at-target\"\n+rest = true\n", ""},
		{"every key", mat, []Slot{weekend}, "line 3\n+\n+[[mat.schedule]]\n+from = \"08:00\"\n+to = \"20:00\"\n+days = [\"sat\", \"sun\"]\n+stage = \"rising\"\n+setpoint_c = 26.5\n", ""},
		{"in the baker's units", "units = \"us\"\n", []Slot{night}, "line 2\n+\n+[[mat.schedule]]\n+from = \"22:00\"\n+to = \"06:00\"\n+setpoint_c = \"71.6 F\"\n", ""},
		{"nothing new", two, []Slot{night, cool}, "", ""},
		{"one goes", two, []Slot{cool}, "line 4\n-# Nights are cool.\n-[[mat.schedule]]\n-from = \"22:00\" # to bed\n-to = \"06:00\"\n-setpoint_c = 22\n-\n", ""},
		{"all go", two, nil, "line 4\n-# Nights are cool.\n-[[mat.schedule]]\n-from = \"22:00\" # to bed\n-to = \"06:00\"\n-setpoint_c = 22\n-\n-# Let it cool.\n-[[mat.schedule]]\n-stage = \"at-target\"\n-rest = true\n-\n", ""},
		{"one changes, the other keeps its comment", two, []Slot{night, weekend}, "line 10\n-# Let it cool.\nline 11\n-stage = \"at-target\"\n-rest = true\n+from = \"08:00\"\n+to = \"20:00\"\n+days = [\"sat\", \"sun\"]\n+stage = \"rising\"\n+setpoint_c = 26.5\n", ""},
		{"a warmth beyond the limit", mat, []Slot{{SetpointC: 60}}, "", "60 is above the limit 35"},
		{"inline", "[mat]\nschedule = [{ rest = true }]\n", []Slot{night}, "", "only a hand can change"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			after, err := EditSchedule([]byte(tt.text), "leavend.toml", tt.slots)
			if tt.fails != "" {
				if err == nil || !strings.Contains(err.Error(), tt.fails) {
					t.Errorf("got %v, want an error with %q", err, tt.fails)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("\n%s", after)
			c, err := Parse(after, "leavend.toml")
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.Mat.Schedule, tt.slots, cmp.Comparer(Slot.equal)); d != "" {
				t.Errorf("read back (-got +want):\n%s", d)
			}
			if got := Difference([]byte(tt.text), after); got != tt.want {
				t.Errorf("the change is %q, want %q", got, tt.want)
			}
		})
	}
}

// Taken from the reference and put back, the file is as it was.
func TestEditScheduleOfTheReference(t *testing.T) {
	one := []Slot{{From: 60, To: 120, SetpointC: 24}}
	with, err := EditSchedule([]byte(Reference()), "leavend.toml", one)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Parse(with, "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(c.Mat.Schedule, one, cmp.Comparer(Slot.equal)); d != "" {
		t.Error(d)
	}
	without, err := EditSchedule(with, "leavend.toml", nil)
	if err != nil {
		t.Fatal(err)
	}
	if string(without) != Reference() {
		t.Errorf("what is left:\n%s", Difference([]byte(Reference()), without))
	}
}
