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
