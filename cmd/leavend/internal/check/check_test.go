package check

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// fake is a board made of files below a temporary folder.
func fake(t *testing.T, files map[string]string) Board {
	t.Helper()
	b := Board{
		Root: t.TempDir(), UID: 999, User: "leavend", Open: tryOpen, Free: func(string) (uint64, error) { return 4e9, nil },
		Synced: func() (bool, error) { return true, nil }, Listen: func(string) error { return nil },
		Now: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC),
	}
	for path, text := range files {
		full := b.path(path)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

const pi = "Raspberry Pi 4 Model B Rev 1.4\x00"

func deny(string, int) error { return &fs.PathError{Op: "open", Path: "x", Err: syscall.EACCES} }

// english is a sentence in English. It panics where a value that the sentence takes
// was not given, in English or German.
func english(m text.Message) string {
	for _, code := range text.Languages() {
		if s := m.In(text.Reader{Language: code}); strings.Contains(s, text.Say("number.unknown").In(text.Reader{})) {
			panic("a value is missing: " + s)
		}
	}
	return m.In(text.Reader{})
}

func TestBoard(t *testing.T) {
	tests := []struct {
		name  string
		files map[string]string
		ask   func(Board) Result
		level Level
		says  string // a part of what it says
		do    string // a part of what to do
	}{
		{"bus there", map[string]string{"/dev/i2c-1": ""}, i2cBus, Pass, "/dev/i2c-1 can be opened", ""},
		{"bus closed to us", map[string]string{"/dev/i2c-1": ""}, func(b Board) Result { b.Open = deny; return i2cBus(b) }, Fail, "may not open", "usermod -aG i2c leavend"},
		{"bus not enabled", map[string]string{"/proc/device-tree/model": pi, "/boot/firmware/config.txt": "#dtparam=i2c_arm=on\n"}, i2cBus, Fail, "There is no", "echo dtparam=i2c_arm=on | sudo tee -a /boot/firmware/config.txt"},
		{"bus not enabled, older system", map[string]string{"/proc/device-tree/model": pi, "/boot/config.txt": ""}, i2cBus, Fail, "There is no", "tee -a /boot/config.txt"},
		{"bus enabled since", map[string]string{"/proc/device-tree/model": pi, "/boot/firmware/config.txt": "dtparam=i2c_arm=on"}, i2cBus, Fail, "There is no", "sudo reboot"},
		{"bus without device file", map[string]string{"/sys/bus/i2c/devices/i2c-1/name": "x"}, i2cBus, Fail, "There is no", "modprobe i2c-dev"},
		{"another bus", map[string]string{"/dev/i2c-20": ""}, i2cBus, Fail, "There is no", "/dev/i2c-20"},

		{"probe there", map[string]string{w1 + "w1_bus_master1/x": "", w1 + "28-0000000000a1/temperature": "21000"}, oneWire, Pass, "28-0000000000a1", ""},
		{"no probe answers", map[string]string{w1 + "w1_bus_master1/x": ""}, oneWire, Fail, "no thermometer answers", "4.7 kΩ"},
		{"no 1-wire", map[string]string{"/proc/device-tree/model": pi, "/boot/firmware/config.txt": "dtoverlay=w1-gpiox\n"}, oneWire, Fail, "no 1-Wire bus", "dtoverlay=w1-gpio,gpiopin=4"},
		{"1-wire enabled since", map[string]string{"/proc/device-tree/model": pi, "/boot/firmware/config.txt": "dtoverlay=w1-gpio,gpiopin=4\n"}, oneWire, Fail, "no 1-Wire bus", "sudo reboot"},

		{"lines there", map[string]string{"/dev/gpiochip0": ""}, gpioLine, Pass, "can be opened", ""},
		{"another chip", map[string]string{"/dev/gpiochip4": ""}, gpioLine, Fail, "There is no", `"gpiochip4:17"`},
		{"no lines", nil, gpioLine, Fail, "There is no", "use a plug"},

		{"kernel keeps the line", map[string]string{"/proc/device-tree/model": pi, "/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs": "Y\n"}, Board.Persistence, Warn, "heats on", "dtparam=strict_gpiod | sudo tee"},
		{"kernel keeps the line until the next start", map[string]string{"/proc/device-tree/model": pi, "/sys/module/pinctrl_rp1/parameters/persist_gpio_outputs": "Y\n", "/boot/firmware/config.txt": "[all]\ndtparam=strict_gpiod # mat\n"}, Board.Persistence, Warn, "heats on", "sudo reboot"},
		{"kernel lets go", map[string]string{"/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs": "N\n"}, Board.Persistence, Pass, "releases the mat's line", ""},
		{"kernel lets go by its command line", map[string]string{"/proc/device-tree/model": pi, "/proc/cmdline": "quiet pinctrl_bcm2835.persist_gpio_outputs=n rootwait"}, Board.Persistence, Pass, "releases the mat's line", ""},
		{"kernel that does not say, on a Pi", map[string]string{"/proc/device-tree/model": pi}, Board.Persistence, Warn, "heats on", "strict_gpiod"},
		{"kernel that does not say", nil, Board.Persistence, Note, "pull-down", ""},

		{"clock set", map[string]string{"/run/systemd/timesync/synchronized": ""}, Board.Clock, Pass, "The network sets it", ""},
		{"clock set by another service", nil, Board.Clock, Pass, "The network sets it", ""},
		{"clock not set", nil, func(b Board) Result {
			b.Synced = func() (bool, error) { return false, nil }
			return b.Clock()
		}, Warn, "nothing sets it", "timedatectl set-ntp true"},
		{"clock long past", nil, func(b Board) Result { b.Now = time.Unix(0, 0).UTC(); return b.Clock() }, Fail, "1970-01-01", "timedatectl"},

		{"room", map[string]string{"/data/x": ""}, space, Pass, "4.0 GB free; readings will take about 50 MB", ""},
		{"no room", map[string]string{"/data/x": ""}, func(b Board) Result {
			b.Free = func(string) (uint64, error) { return 1e6, nil }
			return space(b)
		}, Fail, "1.0 MB free", "df -h /data"},
		{"little room", map[string]string{"/data/x": ""}, func(b Board) Result {
			b.Free = func(string) (uint64, error) { return 9e7, nil }
			return space(b)
		}, Warn, "90 MB free", "full_rate_days"},
		{"folder not made yet", nil, space, Note, "not there yet", ""},

		{"watchdog fed", map[string]string{"/dev/watchdog0": "", "/etc/systemd/system.conf.d/leavend.conf": "[Manager]\nRuntimeWatchdogSec = 14s\n"}, Board.Watchdog, Pass, "14s", ""},
		{"watchdog not fed", map[string]string{"/dev/watchdog0": "", "/etc/systemd/system.conf": "#RuntimeWatchdogSec=0\n"}, Board.Watchdog, Warn, "does not use it", "RuntimeWatchdogSec=14s"},
		{"no watchdog", nil, Board.Watchdog, Warn, "no hardware watchdog", "dtparam=watchdog=on"},

		{"port free", nil, port, Pass, "can listen on", ""},
		{"port in use", nil, func(b Board) Result {
			b.Listen = func(string) error { return syscall.EADDRINUSE }
			return port(b)
		}, Fail, "Another program", "ss -ltnp 'sport = :8420'"},
		{"port of the daemon", nil, func(b Board) Result {
			b.Listen = func(string) error { return syscall.EADDRINUSE }
			return b.Port("page", "web.listen", "127.0.0.1:8420", true)
		}, Note, "by leavend, which runs", ""},
		{"port forbidden", nil, func(b Board) Result { b.Listen = func(string) error { return syscall.EACCES }; return port(b) }, Fail, "below 1024", "web.listen"},
		{"port of another board", nil, func(b Board) Result {
			b.Listen = func(string) error { return syscall.EADDRNOTAVAIL }
			return port(b)
		}, Fail, "not an address of this board", "ip -brief address"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.ask(fake(t, tt.files))
			if got.Level != tt.level || !strings.Contains(english(got.Says), tt.says) || !strings.Contains(english(got.Do), tt.do) {
				t.Errorf("got %s: %s\n-> %s\nwant %s with %q and %q", got.Level, english(got.Says), english(got.Do), tt.level, tt.says, tt.do)
			}
			if got.Level == Fail && got.Do.IsZero() {
				t.Errorf("%s fails and does not say what to do", got.Says)
			}
			if !strings.HasSuffix(english(got.Says), ".") {
				t.Errorf("%q is no sentence", got.Says)
			}
		})
	}
}

const w1 = "/sys/bus/w1/devices/"

func i2cBus(b Board) Result   { r, _ := b.I2C(1); return r }
func oneWire(b Board) Result  { _, r, _ := b.OneWire(); return r }
func gpioLine(b Board) Result { r, _ := b.GPIO("gpiochip0"); return r }
func space(b Board) Result    { return b.Space("/data", 5e7) }
func port(b Board) Result     { return b.Port("page", "web.listen", "127.0.0.1:8420", false) }

func TestProbe(t *testing.T) {
	b := fake(t, nil)
	two := []string{"28-0000000000a1", "28-0000000000b2"}
	for _, tt := range []struct {
		id     string
		probes []string
		level  Level
		part   string
	}{
		{"", two[:1], Pass, "the only thermometer"},
		{"", two, Fail, "there are 2"},
		{two[1], two, Pass, "is on the 1-Wire bus"},
		{"28-0000000000c3", two, Fail, "is not on the 1-Wire bus"},
	} {
		if got := b.Probe("crumb", tt.id, tt.probes); got.Level != tt.level || !strings.Contains(english(got.Says), tt.part) {
			t.Errorf("Probe(%q, %v) = %s: %s; want %s with %q", tt.id, tt.probes, got.Level, got.Says, tt.level, tt.part)
		}
	}
}

func TestSecretFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "password")
	b := fake(t, nil)
	if got := b.SecretFile("mqtt", file); got.Level != Fail || !strings.Contains(english(got.Do), "install -m 640") {
		t.Errorf("missing file: got %+v", got)
	}
	for _, tt := range []struct {
		text  string
		mode  os.FileMode
		level Level
	}{{"x", 0o640, Pass}, {"x", 0o644, Warn}, {"", 0o600, Fail}} {
		if err := os.WriteFile(file, []byte(tt.text), tt.mode); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(file, tt.mode); err != nil {
			t.Fatal(err)
		}
		if got := b.SecretFile("mqtt", file); got.Level != tt.level {
			t.Errorf("file %q with mode %o: got %+v, want %s", tt.text, tt.mode, got, tt.level)
		}
	}
	if got := b.SecretFile("mqtt", dir); got.Level != Fail {
		t.Errorf("a folder: got %+v", got)
	}
}

func TestReport(t *testing.T) {
	var r Report
	r.Add(Result{Topic: "clock", Level: Pass, Says: written("Fine.")},
		Result{Topic: "i2c", Level: Fail, Says: written("Gone.\nTwice."), Do: written("sudo <x>"), Line: 3}, Result{Topic: "a", Level: Warn, Says: written("B.")})
	var out, data bytes.Buffer
	if err := errors.Join(r.WriteText(&out, text.Reader{}), r.WriteJSON(&data)); err != nil {
		t.Fatal(err)
	}
	want := "pass  clock: Fine.\nfail  I²C: Gone.\n      Twice.\n      -> sudo <x>\nwarn  a: B.\n\n1 thing to repair and 1 thing to look at.\n"
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
	var got struct {
		OK               bool
		Pass, Warn, Fail int
		Results          []jsonResult
	}
	if err := json.Unmarshal(data.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.OK || got.Pass != 1 || got.Warn != 1 || got.Fail != 1 || got.Results[1] != (jsonResult{Topic: "i2c", Level: Fail, Says: "Gone.\nTwice.", Do: "sudo <x>", Line: 3}) {
		t.Errorf("JSON says %+v", got)
	}
}

// The real board answers too, whatever it is.
func TestThisBoard(t *testing.T) {
	b := ThisBoard()
	if n, err := b.Free(t.TempDir()); err != nil || n == 0 {
		t.Errorf("Free = %d, %v", n, err)
	}
	if err := b.Listen("127.0.0.1:0"); err != nil {
		t.Errorf("Listen = %v", err)
	}
	if b.User == "" || b.Clock().Says.IsZero() {
		t.Error("the board says nothing of itself")
	}
}
