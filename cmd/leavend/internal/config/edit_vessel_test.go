package config

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/peak/plan"
)

const twoJars = `[[sensor]]
name = "eye"
chip = "vl53l4cd"
bus = 1

# Behind the flour.
[[sensor]]
name = "far eye"
chip = "vl53l4cd"
bus = 3

# The old one.
[[vessel]]
name = "Bramble" # by the window
distance = "eye"

[[vessel]]
name = "Pilot"
distance = "far eye"
starter = "Bramble"
`

// TestRenameVessel changes a name and nothing by which its history is found.
func TestRenameVessel(t *testing.T) {
	for _, tt := range []struct{ name, text, to, want, fails string }{
		{"renamed", twoJars, "Bess", "line 14\n-name = \"Bramble\" # by the window\n+name = \"Bess\" # by the window\n+starter = \"Bramble\"\n+slug = \"bramble\"\n", ""},
		{"taken", twoJars, "Pilot", "", "Pilot"},
		{"unknown", "", "Bess", "", "no vessel has that name"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			after, err := RenameVessel([]byte(tt.text), "leavend.toml", "Bramble", tt.to)
			if tt.fails != "" {
				if err == nil || !strings.Contains(err.Error(), tt.fails) {
					t.Errorf("got %v, want an error with %q", err, tt.fails)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(Difference([]byte(tt.text), after), tt.want); d != "" {
				t.Errorf("the change (-got +want):\n%s", d)
			}
			before, _ := Parse([]byte(tt.text), "leavend.toml")
			c, err := Parse(after, "leavend.toml")
			if err != nil {
				t.Fatal(err)
			}
			was, is := before.Vessels[0], c.Vessels[0]
			if was.Name = tt.to; !cmp.Equal(was, is) {
				t.Errorf("renamed it is %+v, want %+v", is, was)
			}
		})
	}
}

// TestRemoveVessel takes a vessel and its sensor out, and leaves what the mat
// needs.
func TestRemoveVessel(t *testing.T) {
	after, err := RemoveVessel([]byte(twoJars), "leavend.toml", "Pilot")
	if err != nil {
		t.Fatal(err)
	}
	want := "line 6\n-# Behind the flour.\n-[[sensor]]\n-name = \"far eye\"\n-chip = \"vl53l4cd\"\n-bus = 3\n-\nline 10\n-\n-[[vessel]]\n-name = \"Pilot\"\n-distance = \"far eye\"\n-starter = \"Bramble\"\n"
	if got := Difference([]byte(twoJars), after); got != want {
		t.Errorf("the change is %q, want %q", got, want)
	}
	if _, err := RemoveVessel([]byte(twoJars), "leavend.toml", "Bess"); err == nil {
		t.Error("a vessel that is not there was removed")
	}
}

// TestEditHours changes when nothing is planned, and leaves absences with a date.
func TestEditHours(t *testing.T) {
	text := "[plan]\nasleep_from = \"22:30\" # early\n\n# The shop.\n[[plan.away]]\nfrom = \"08:00\"\nto = \"17:00\"\n\n# Holidays.\n[[plan.away]]\nstart = \"2027-01-02 10:00\"\nend = \"2027-01-03 18:00\"\n"
	away := []plan.Away{{From: 9 * 60, To: 12*60 + 30, Days: []time.Weekday{time.Sunday, time.Monday}}, {From: 20 * 60, To: 60}}
	after, err := EditHours([]byte(text), "leavend.toml", 23*60, 7*60, away)
	if err != nil {
		t.Fatal(err)
	}
	want := "[plan]\nasleep_to = \"07:00\"\nasleep_from = \"23:00\" # early\n\n" +
		"[[plan.away]]\nfrom = \"09:00\"\nto = \"12:30\"\ndays = [\"mon\", \"sun\"]\n\n" +
		"[[plan.away]]\nfrom = \"20:00\"\nto = \"01:00\"\n\n" +
		"# Holidays.\n[[plan.away]]\nstart = \"2027-01-02 10:00\"\nend = \"2027-01-03 18:00\"\n"
	if d := cmp.Diff(string(after), want); d != "" {
		t.Errorf("the text (-got +want):\n%s", d)
	}
	again, err := EditHours(after, "leavend.toml", 23*60, 7*60, away)
	if err != nil || string(again) != string(after) {
		t.Errorf("the same again gives %v and\n%s", err, again)
	}
	if _, err := EditHours([]byte(text), "leavend.toml", 23*60, 7*60, []plan.Away{{From: 60, To: 60}}); err == nil {
		t.Error("an absence of no length was taken")
	}
	if c, err := Parse(after, "leavend.toml"); err != nil || len(c.Plan.Away) != 3 || c.Plan.Away[2].Start.IsZero() {
		t.Errorf("read back: %v, %v", c, err)
	}
}
