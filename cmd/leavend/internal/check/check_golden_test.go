package check

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// kitchenBoard is a board made of files, as a Raspberry Pi in a kitchen would
// show them. It is invented.
func kitchenBoard(t *testing.T, files map[string]string) Board {
	t.Helper()
	root := t.TempDir()
	for path, text := range files {
		full := filepath.Join(root, path)
		if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o755), os.WriteFile(full, []byte(text), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	return Board{
		Root: root, UID: 990, User: "leavend",
		Open: func(path string, _ int) error {
			_, err := os.Stat(path)
			if strings.Contains(path, "gpiochip") && files["/locked"] != "" {
				return &os.PathError{Op: "open", Path: path, Err: syscall.EACCES}
			}
			return err
		},
		Free:   func(string) (uint64, error) { return 11_200_000_000, nil },
		Synced: func() (bool, error) { return files["/unset"] == "", nil },
		Listen: func(string) error { return nil },
		Now:    time.Date(2026, 11, 25, 18, 40, 0, 0, time.UTC),
	}
}

const kitchenConfig = `
[[sensor]]
name = "bramble-eye"
chip = "vl53l1x"
mux = 0x70
mux_channel = 3
[[sensor]]
name = "bramble-probe"
chip = "ds18b20"
id = "28-0000000000a1"
[[sensor]]
name = "mat-probe"
chip = "ds18b20"
id = "28-0000000000b2"
place = "mat"
[[vessel]]
name = "Bramble"
distance = "bramble-eye"
temperature = "bramble-probe"
floor_mm = 172
[mat]
output = "gpio"
line = 17
mat_probe = "mat-probe"
`

// steady is a source with the same small noise each time.
func steady(s config.Sensor) ([]hardware.Channel, error) {
	q, mean, noise := sensor.Temperature, 24.0, 0.06
	if s.Chip == config.VL53L1X {
		q, mean, noise = sensor.Distance, 118, 1.2
	}
	values := make([]float64, checkReads)
	for i := range values {
		values[i] = mean + noise*math.Sin(float64(i))
	}
	return []hardware.Channel{{Sensor: s, Quantity: q, Source: &script{values: values}}}, nil
}

// What a person sees on a good and on a bad set-up is held in golden files, in every language.
func TestCheckGolden(t *testing.T) {
	const w1 = "/sys/bus/w1/devices/"
	tests := []struct {
		name  string
		board map[string]string
		code  int
	}{
		{"good", map[string]string{
			"/proc/device-tree/model": "Raspberry Pi 4 Model B Rev 1.4\x00", "/boot/firmware/config.txt": "dtparam=i2c_arm=on\ndtoverlay=w1-gpio,gpiopin=4\ndtparam=strict_gpiod\n",
			"/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs": "N\n", "/sys/devices/platform/soc/soc:firmware/get_throttled": "0\n",
			"/dev/i2c-1": "", "/dev/gpiochip0": "", "/dev/watchdog0": "", "/etc/systemd/system.conf.d/leavend-watchdog.conf": "[Manager]\nRuntimeWatchdogSec=14s\n",
			w1 + "w1_bus_master1/therm_bulk_read": "", w1 + "28-0000000000a1/name": "", w1 + "28-0000000000b2/name": "", "/var/lib/leavend/leavend.db": "",
		}, failure.Done},
		{"bad", map[string]string{
			"/proc/device-tree/model": "Raspberry Pi 4 Model B Rev 1.4\x00", "/boot/firmware/config.txt": "dtoverlay=w1-gpio,gpiopin=17\n",
			"/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs": "Y\n", "/sys/devices/platform/soc/soc:firmware/get_throttled": "50000\n",
			"/dev/gpiochip0": "", "/locked": "yes", "/unset": "yes", "/dev/watchdog0": "",
			w1 + "w1_bus_master1/name": "", w1 + "28-0000000000a1/name": "", "/var/lib/leavend/leavend.db": "",
		}, failure.Failed},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := configtest.Write(t, kitchenConfig)
			hands := Checker{Board: kitchenBoard(t, tt.board), Open: steady, I2c: func(int) (Wires, func() error, error) {
				return &muxed{}, func() error { return nil }, nil
			}}
			var report Report
			code := hands.All(context.Background(), &report, file, false)
			if code != tt.code {
				t.Errorf("exit %d, want %d", code, tt.code)
			}
			for _, language := range text.Languages() {
				var out bytes.Buffer
				if err := report.WriteText(&out, text.Reader{Language: language}); err != nil {
					t.Fatal(err)
				}
				golden.Compare(t, "testdata/check-"+tt.name+"."+language+".txt", strings.ReplaceAll(out.String(), file, "/etc/leavend/leavend.toml"))
			}
		})
	}
}
