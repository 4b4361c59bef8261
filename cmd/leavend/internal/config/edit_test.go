package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestEdit(t *testing.T) {
	const before = `# my kitchen
[[sensor]]
name = "eye" # over the jar
chip = "vl53l1x"

[[vessel]]
  name = "Bramble"
  distance = "eye"
  floor_mm = 160 # "old" jar
`
	tests := []struct {
		name, text, table, which string
		set                      Setting
		want                     string // the difference
		fails                    string
	}{
		{"a value with a comment", before, "vessel", "Bramble", Setting{"floor_mm", "171.5"}, "line 9\n-  floor_mm = 160 # \"old\" jar\n+  floor_mm = 171.5 # \"old\" jar\n", ""},
		{"a key that was not there", before, "vessel", "Bramble", Setting{"height_mm", "150"}, "line 8\n+height_mm = 150\n", ""},
		{"a key behind a name with a comment", before, "sensor", "eye", Setting{"budget", `"200ms"`}, "line 4\n+budget = \"200ms\"\n", ""},
		{"a table that was not there", before, "mat", "", Setting{"setpoint_c", "24"}, "line 10\n+\n+[mat]\n+setpoint_c = 24\n", ""},
		{"one of several that was not there", before, "notify", "a \"b\"", Setting{"url_file", `"x"`}, "line 10\n+\n+[[notify]]\n+name = 'a \"b\"'\n+url_file = \"x\"\n", ""},
		{"the top", before, "", "", Setting{"units", `"us"`}, "line 2\n+units = \"us\"\n", ""},
		{"an empty file", "", "", "", Setting{"clock", "12"}, "line 1\n+clock = 12\n", ""},
		{"a file without an end of line", "clock = 24", "web", "", Setting{"on", "false"}, "line 1\n-clock = 24\n+clock = 24\n+\n+[web]\n+on = false\n", ""},
		{"a value that is out of range", before, "vessel", "Bramble", Setting{"floor_mm", "9999"}, "", "leavend.toml:9: vessel[Bramble].floor_mm: 9999 is above the limit 2000"},
		{"a value that is none", before, "vessel", "Bramble", Setting{"floor_mm", "?"}, "", "not valid TOML"},
		{"a table in one line", "mat = { setpoint_c = 24 }\n", "mat", "", Setting{"max_duty", "0.5"}, "", "only a hand can change"},
		{"a value over several lines", "[web]\nhosts = [\n\"a\",\n]\n", "web", "", Setting{"hosts", "[]"}, "", "several lines"},
		{"a file that is wrong already", "clock = 3\n", "", "", Setting{"units", `"us"`}, "", "leavend.toml:1: clock"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			after, err := Edit([]byte(tt.text), "leavend.toml", tt.table, tt.which, tt.set)
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
				t.Errorf("the change is not as wanted (-got +want):\n%s", d)
			}
		})
	}
}

// The reference itself can be edited, and Edit never loses a line of it.
func TestEditKeepsTheReference(t *testing.T) {
	after, err := Edit([]byte(Reference()), "leavend.toml", "mat", "", Setting{"setpoint_c", "27.5"}, Setting{"max_duty", "0.5"})
	if err != nil {
		t.Fatal(err)
	}
	c, err := Parse(after, "leavend.toml")
	if err != nil || c.Mat.SetpointC != 27.5 || c.Mat.MaxDuty != 0.5 {
		t.Errorf("got setpoint %v, duty %v, %v", c.Mat.SetpointC, c.Mat.MaxDuty, err)
	}
	zoned, err := Edit([]byte(Reference()), "leavend.toml", "", "", Setting{"timezone", `"UTC"`})
	if d := Difference([]byte(Reference()), zoned); err != nil || !strings.HasSuffix(d, "-#timezone = \"Europe/Oslo\"\n+timezone = \"UTC\"\n") {
		t.Errorf("the unset key was not used: %v\n%s", err, d)
	}
	back := strings.NewReplacer("setpoint_c = 27.5", "setpoint_c = 25.0", "max_duty = 0.5", "max_duty = 0.9").Replace(string(after))
	if back != Reference() {
		t.Errorf("more was changed than asked for:\n%s", Difference([]byte(Reference()), after))
	}
}

func TestSave(t *testing.T) {
	dir := t.TempDir()
	file, link := filepath.Join(dir, "real.toml"), filepath.Join(dir, "leavend.toml")
	if err := os.WriteFile(file, []byte("clock = 24\n"), 0o604); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(file, link); err != nil {
		t.Fatal(err)
	}
	if err := Save(link, []byte("clock = 12\n")); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(file)
	info, _ := os.Stat(file)
	if string(got) != "clock = 12\n" || info.Mode().Perm() != 0o604 || err != nil {
		t.Errorf("the file holds %q with mode %o, %v", got, info.Mode().Perm(), err)
	}
	if l, err := os.Lstat(link); err != nil || l.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is gone: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".leavend-*")); len(left) > 0 {
		t.Errorf("%v was left behind", left)
	}
	if err := Save(filepath.Join(dir, "none", "x.toml"), nil); err == nil {
		t.Error("a folder that is not there was no error")
	}
}
