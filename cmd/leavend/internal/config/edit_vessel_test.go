package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
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

// What cannot be changed says why, and nothing is changed: not of a file that is
// wrong already, nor where the outcome would be, nor of what is laid out in a way
// that only a hand can change.
func TestChangesRefused(t *testing.T) {
	const inline = "sensor = [{ name = \"eye\", chip = \"vl53l4cd\" }]\nvessel = [{ name = \"Bramble\", distance = \"eye\" }]\n"
	const bad = "clock = 3\n"
	mat := twoJars + "[mat]\noutput = \"gpio\"\nline = 17\nvessel = \"Bramble\"\nprobe = \"p\"\n[[sensor]]\nname = \"p\"\nchip = \"ds18b20\"\n"
	rename := func(text string) ([]byte, error) {
		return RenameVessel([]byte(text), "leavend.toml", "Bramble", "Bess")
	}
	remove := func(text string) ([]byte, error) { return RemoveVessel([]byte(text), "leavend.toml", "Bramble") }
	sensor := func(text string) ([]byte, error) { return Remove([]byte(text), "leavend.toml", "sensor", "eye") }
	edit := func(table, key, value string) func(string) ([]byte, error) {
		return func(text string) ([]byte, error) {
			return Edit([]byte(text), "leavend.toml", table, "", Setting{key, value})
		}
	}
	for _, tt := range []struct {
		name, text string
		change     func(string) ([]byte, error)
		want       string
	}{
		{"a rename in a file that is wrong", bad, rename, "leavend.toml:1: clock: "},
		{"a removal from a file that is wrong", bad, remove, "leavend.toml:1: clock: "},
		{"a table taken from a file that is wrong", bad, sensor, "leavend.toml:1: clock: "},
		{"a rename in a table of one line", inline, rename, "set slug in leavend.toml: its table is written in a way that only a hand can change"},
		{"a removal of a table of one line", inline, remove, "remove Bramble from leavend.toml: its table is written in a way"},
		{"a sensor that a vessel needs", twoJars, sensor, `vessel[Bramble].distance: there is no sensor "eye"`},
		{"a vessel that the mat warms", mat, remove, ErrWarmed.Error()},
		{"a name that no topic can have", twoJars, func(text string) ([]byte, error) {
			return RenameVessel([]byte(text), "leavend.toml", "Bramble", strings.Repeat("x", 41))
		}, "is longer than 40 letters"},
		{"a value that opens another table", "", edit("web", "on", "true\n[mqtt"), "leavend.toml:"},
		{"a value with a comment of its own", "[web]\non = true\n", edit("web", "on", "\"#\""), "web.on: "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got, err := tt.change(tt.text); err == nil || got != nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %q, %v, want an error with %q", got, err, tt.want)
			}
		})
	}
}

// The mat follows the vessel that is renamed, and jars that share its starter
// keep it.
func TestRenameVesselOnTheMat(t *testing.T) {
	text := twoJars + "[mat]\noutput = \"gpio\"\nline = 17\nvessel = \"Bramble\" # the old one\nprobe = \"p\"\n[[sensor]]\nname = \"p\"\nchip = \"ds18b20\"\n"
	after, err := RenameVessel([]byte(text), "leavend.toml", "Bramble", "Bess")
	if err != nil {
		t.Fatal(err)
	}
	c, err := Parse(after, "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	if c.Mat.Vessel != "Bess" || c.Vessels[0].Starter != "Bramble" || c.Vessels[1].Starter != "Bramble" || !strings.Contains(string(after), "# the old one") {
		t.Errorf("the mat is below %q, the starters are %q and %q:\n%s", c.Mat.Vessel, c.Vessels[0].Starter, c.Vessels[1].Starter, after)
	}
}
