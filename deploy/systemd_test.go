package deploy_test

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// unit reads a unit file into all the values of each key. A value that is
// empty takes back what stood before, as systemd has it.
func unit(t *testing.T, file string) map[string][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	keys := map[string][]string{}
	for in := bufio.NewScanner(f); in.Scan(); {
		line := strings.TrimSpace(in.Text())
		if line == "" || line[0] == '#' || line[0] == '[' {
			continue
		}
		key, value, ok := strings.Cut(line, "=")
		if !ok {
			t.Fatalf("%s: %q is no setting", file, line)
		}
		keys[key] = append(keys[key], value)
	}
	return keys
}

// The unit keeps the promises that the mat's safety hangs on. Each value
// stands here a second time on purpose: to change one is to think twice.
func TestUnitKeepsTheMatSafe(t *testing.T) {
	u := unit(t, "leavend.service")
	for key, want := range map[string]string{
		"Type":                     "notify",
		"NotifyAccess":             "main", // no other process may feed the watchdog
		"ExecStopPost":             "/usr/bin/leavend mat off --after-exit",
		"Restart":                  "always",
		"StartLimitIntervalSec":    "0",
		"RestartPreventExitStatus": "2",
		"Environment":              "GOTRACEBACK=crash", // or a panic is taken for exit 2
		"User":                     "leavend",
		"DevicePolicy":             "closed",
		"RuntimeDirectory":         "leavend",
		"StateDirectory":           "leavend",
	} {
		if got := u[key]; !slices.Equal(got, []string{want}) {
			t.Errorf("%s = %q, want %q", key, got, want)
		}
	}
	seconds := func(key string) time.Duration {
		d, err := time.ParseDuration(strings.Join(u[key], ""))
		if err != nil || d <= 0 {
			t.Errorf("%s = %q: %v", key, u[key], err)
		}
		return d
	}
	// A GPIO mat has no timer of its own: a hung daemon leaves it on until
	// the watchdog and the abort are both through.
	if worst := seconds("WatchdogSec") + seconds("TimeoutAbortSec"); worst > 30*time.Second {
		t.Errorf("a hung daemon could leave the mat on for %s, want at most 30s", worst)
	}
	// These would take GPIO, I²C or the board's name away.
	for _, key := range []string{"PrivateDevices", "ProcSubset", "PrivateUsers", "RootDirectory"} {
		if u[key] != nil {
			t.Errorf("%s= is set, and hides what the daemon needs", key)
		}
	}
	for _, allow := range u["DeviceAllow"] {
		if strings.Contains(allow, "mem") {
			t.Errorf("DeviceAllow=%s: a line driven through memory keeps its level after a crash", allow)
		}
	}
	for _, want := range []string{"char-gpiochip rw", "char-i2c rw"} {
		if !slices.Contains(u["DeviceAllow"], want) {
			t.Errorf("DeviceAllow lacks %q", want)
		}
	}
	if !strings.Contains(strings.Join(u["ReadWritePaths"], " "), "/sys/devices/w1_bus_master1") {
		t.Error("1-Wire conversions could not be started together: /sys is read-only there")
	}
}

// maxExposure is the worst rating that the unit may have.
const maxExposure = 2.0

func TestUnitExposure(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is not here (Debian package systemd)")
	}
	out, err := exec.Command(tool, "security", "--no-pager", "--offline=true", "leavend.service").CombinedOutput()
	m := regexp.MustCompile(`Overall exposure level for \S+: ([0-9.]+)`).FindSubmatch(out)
	if m == nil {
		t.Skipf("this systemd rates no unit that is not installed: %v\n%s", err, out)
	}
	got, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("systemd-analyze security: %.1f", got)
	if got > maxExposure {
		t.Errorf("exposure is %.1f, want at most %.1f:\n%s", got, maxExposure, out)
	}
}

// systemd itself finds nothing to complain of. The program and its man page
// are not installed here, so they are taken out.
func TestUnitVerifies(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is not here (Debian package systemd)")
	}
	text, err := os.ReadFile("leavend.service")
	if err != nil {
		t.Fatal(err)
	}
	program, err := exec.LookPath("true")
	if err != nil {
		t.Fatal(err)
	}
	here := strings.ReplaceAll(string(text), "/usr/bin/leavend", program)
	here = regexp.MustCompile(`(?m)^Documentation=.*\n`).ReplaceAllString(here, "")
	verify := func(text string) string {
		file := filepath.Join(t.TempDir(), "leavend.service")
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		// What it says counts, for older versions end with 0 all the same.
		out, err := exec.Command(tool, "verify", "--man=no", file).CombinedOutput()
		if err != nil && len(out) == 0 {
			t.Skipf("systemd-analyze verify does not work here: %v", err)
		}
		var ours []string
		for _, line := range strings.Split(string(out), "\n") {
			if strings.Contains(line, "leavend") {
				ours = append(ours, line)
			}
		}
		return strings.Join(ours, "\n")
	}
	if got := verify(here); got != "" {
		t.Errorf("systemd-analyze verify says:\n%s", got)
	}
	if got := verify(here + "\nWatchdogSek=3\n[Service]\nWatchdogSek=3\n"); got == "" {
		t.Error("systemd-analyze verify did not notice a planted mistake, so it proves nothing")
	}
}

// The file makes the user, and puts it into the devices' groups.
func TestSysusers(t *testing.T) {
	tool, err := exec.LookPath("systemd-sysusers")
	if err != nil {
		t.Skip("systemd-sysusers is not here (Debian package systemd)")
	}
	root := t.TempDir()
	if err := os.Mkdir(filepath.Join(root, "etc"), 0o755); err != nil {
		t.Fatal(err)
	}
	file, err := filepath.Abs("systemd/sysusers.conf")
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tool, "--root="+root, file).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	groups, err := os.ReadFile(filepath.Join(root, "etc/group"))
	if err != nil {
		t.Fatal(err)
	}
	for _, group := range []string{"gpio", "i2c"} {
		if !regexp.MustCompile(`(?m)^` + group + `:.*:leavend$`).Match(groups) {
			t.Errorf("leavend is not in the group %s:\n%s", group, groups)
		}
	}
	users, err := os.ReadFile(filepath.Join(root, "etc/passwd"))
	if err != nil || !regexp.MustCompile(`(?m)^leavend:.*:/var/lib/leavend:/usr/sbin/nologin$`).Match(users) {
		t.Errorf("the user is not as wanted: %v\n%s", err, users)
	}
}

// Every line of the rules is made of keys that udev knows (udev(7)).
func TestUdevRules(t *testing.T) {
	data, err := os.ReadFile("systemd/60-leavend.rules")
	if err != nil {
		t.Fatal(err)
	}
	part := `(SUBSYSTEM|KERNEL|ACTION)=="[^"]+"|(GROUP|MODE)="[^"]+"|RUN\+="[^"]+"`
	rule := regexp.MustCompile(`^(` + part + `)(, (` + part + `))*$`)
	rules := 0
	for i, line := range strings.Split(string(data), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		rules++
		if !rule.MatchString(line) {
			t.Errorf("line %d is no rule: %s", i+1, line)
		}
	}
	if rules != 3 {
		t.Errorf("%d rules were checked, want 3", rules)
	}
}

// The board's watchdog is set below what a Raspberry Pi can count to: about
// 15 s (bcm2835_wdt counts 20 bits of 1/65536 s, which is 15.99 s).
func TestWatchdogSetting(t *testing.T) {
	u := unit(t, "systemd/watchdog.conf")
	d, err := time.ParseDuration(strings.Join(u["RuntimeWatchdogSec"], ""))
	if err != nil || d <= 0 || d >= 15*time.Second {
		t.Errorf("RuntimeWatchdogSec = %v, %v; want below 15s", d, err)
	}
}
