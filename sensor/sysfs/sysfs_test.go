package sysfs_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/sensor"
	"leavend/sensor/sysfs"
)

// tree lays a fake /sys down: path and text of each file.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

const dev0 = "bus/iio/devices/iio:device0/"

func TestIIO(t *testing.T) {
	tests := []struct {
		name  string
		files map[string]string
		input string
		q     sensor.Quantity
		want  float64
		err   string
	}{
		// The ABI document: value = (raw + offset) * scale, in metres. The
		// kernel's driver of the VL53L0X has a scale of a thousandth.
		{"a ranger", map[string]string{"in_distance_raw": "139\n", "in_distance_scale": "0.001000000\n"}, "", sensor.Distance, 139, ""},
		{"with an offset", map[string]string{"in_distance_raw": "139", "in_distance_scale": "0.001", "in_distance_offset": "-9"}, "", sensor.Distance, 130, ""},
		{"processed already", map[string]string{"in_distance_input": "0.139", "in_distance_raw": "77"}, "", sensor.Distance, 139, ""},
		{"a proximity with a scale", map[string]string{"in_proximity_raw": "139", "in_proximity_scale": "0.001"}, "in_proximity", sensor.Distance, 139, ""},
		{"a thermometer of several channels", map[string]string{"in_temp1_raw": "100", "in_temp1_offset": "-20", "in_temp_scale": "312.5"}, "in_temp1", sensor.Temperature, 25, ""},
		{"a hygrometer", map[string]string{"in_humidityrelative_input": "61250"}, "", sensor.Humidity, 61.25, ""},
		{"the channel by its file", map[string]string{"in_distance_input": "0.139"}, "in_distance_input", sensor.Distance, 139, ""},

		{"a proximity without a unit", map[string]string{"in_proximity_raw": "2139"}, "in_proximity", sensor.Distance, 0, "has no scale, so its numbers have no unit"},
		{"no such channel", map[string]string{"in_temp_input": "1"}, "", sensor.Distance, 0, "has no channel in_distance; it has: in_temp"},
		{"no target", map[string]string{"in_distance_raw": "8190", "in_distance_scale": "0.001"}, "", sensor.Distance, 0, "refused distance 8190: outside 1 to 4000"},
		{"no number", map[string]string{"in_distance_input": "far"}, "", sensor.Distance, 0, `the file reads "far", which is no number`},
		{"no text", map[string]string{"in_distance_input": ""}, "", sensor.Distance, 0, `the file reads "", which is no number`},
		{"a scale that is none", map[string]string{"in_distance_raw": "1", "in_distance_scale": "nan"}, "", sensor.Distance, 0, `the file reads "nan"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			files := map[string]string{dev0 + "name": "vl53l0x\n"}
			for name, text := range tt.files {
				files[dev0+name] = text
			}
			d, err := sysfs.NewIIO("vl53l0x", tt.input, tt.q, sysfs.Opts{Root: tree(t, files)})
			if err != nil {
				t.Fatal(err)
			}
			r, err := d.Read(t.Context())
			if r.Value != tt.want || (err == nil) != (tt.err == "") || err != nil && !strings.Contains(err.Error(), tt.err) {
				t.Errorf("got %v, %v, want %v, %q", r.Value, err, tt.want, tt.err)
			}
			if err == nil && r.Quantity != tt.q {
				t.Errorf("it measures %v", r.Quantity)
			}
		})
	}
}

func TestHwmon(t *testing.T) {
	root := tree(t, map[string]string{
		"class/hwmon/hwmon0/name": "cpu_thermal\n", "class/hwmon/hwmon0/temp1_input": "51234\n",
		"class/hwmon/hwmon1/name": "ntc_thermistor\n", "class/hwmon/hwmon1/temp1_input": "26500\n", "class/hwmon/hwmon1/temp1_fault": "0\n",
		"class/hwmon/hwmon2/name": "sht3x\n", "class/hwmon/hwmon2/temp1_input": "-5500\n", "class/hwmon/hwmon2/humidity1_input": "61250\n",
		"class/hwmon/hwmon3/name": "twin\n", "class/hwmon/hwmon4/name": "twin\n",
		"class/hwmon/hwmon5/name": "broken\n", "class/hwmon/hwmon5/temp1_input": "26500\n", "class/hwmon/hwmon5/temp1_fault": "1\n",
	})
	tests := []struct {
		device, input string
		want          float64
		err           string
	}{
		{"ntc_thermistor", "", 26.5, ""},
		{"hwmon1", "temp1", 26.5, ""},
		{root + "/class/hwmon/hwmon1", "", 26.5, ""},
		{"class/hwmon/hwmon1", "", 26.5, ""},
		{"sht3x", "temp1", -5.5, ""},
		{"sht3x", "humidity1", 61.25, ""},
		{"broken", "", 0, "hwmon broken temp1: read: the kernel reports a fault of the sensor: open or shorted"},
		{"absent", "", 0, "hwmon absent temp1: read: the kernel shows no such device; there are: cpu_thermal, ntc_thermistor, sht3x, twin, twin, broken"},
		{"twin", "", 0, "2 devices have this name; give the folder of one"},
	}
	for _, tt := range tests {
		t.Run(tt.device+" "+tt.input, func(t *testing.T) {
			d, err := sysfs.NewHwmon(tt.device, tt.input, sysfs.Opts{Root: root})
			if err != nil {
				t.Fatal(err)
			}
			r, err := d.Read(t.Context())
			if r.Value != tt.want || (err == nil) != (tt.err == "") || err != nil && !strings.Contains(err.Error(), tt.err) {
				t.Errorf("got %v, %v, want %v, %q", r.Value, err, tt.want, tt.err)
			}
		})
	}
}

// TestComesBack unplugs a device, and lets it return under another number, as
// the kernel does.
func TestComesBack(t *testing.T) {
	root := tree(t, map[string]string{"class/hwmon/hwmon1/name": "ntc\n", "class/hwmon/hwmon1/temp1_input": "26500\n"})
	d, err := sysfs.NewHwmon("ntc", "", sysfs.Opts{Root: root})
	if err != nil {
		t.Fatal(err)
	}
	if r, err := d.Read(t.Context()); err != nil || r.Value != 26.5 {
		t.Fatalf("got %v, %v", r.Value, err)
	}
	// An open file of a real /sys answers ENODEV now; here an empty one stands
	// for it, for a removed file of an ordinary disk can still be read.
	input := filepath.Join(root, "class/hwmon/hwmon1/temp1_input")
	if err := os.WriteFile(input, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(root, "class/hwmon/hwmon1")); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if r, err := d.Read(t.Context()); err == nil {
			t.Errorf("unplugged: got %v", r.Value)
		}
	}
	dir := filepath.Join(root, "class/hwmon/hwmon7")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	os.WriteFile(filepath.Join(dir, "name"), []byte("ntc\n"), 0o644)
	os.WriteFile(filepath.Join(dir, "temp1_input"), []byte("27000\n"), 0o644)
	if r, err := d.Read(t.Context()); err != nil || r.Value != 27 {
		t.Errorf("plugged in again: %v, %v", r.Value, err)
	}
}

func TestRefuses(t *testing.T) {
	if _, err := sysfs.NewIIO("x", "", 0, sysfs.Opts{}); err == nil {
		t.Error("a channel that measures nothing was accepted")
	}
	if _, err := sysfs.NewHwmon("x", "fan1", sysfs.Opts{}); err == nil {
		t.Error("a fan was accepted")
	}
	if _, err := sysfs.NewHwmon("../../etc", "", sysfs.Opts{}); err == nil {
		t.Error("a path upwards was accepted")
	}
	if _, err := sysfs.NewIIO("x", "in_temp/../../secret", sensor.Temperature, sysfs.Opts{}); err == nil {
		t.Error("a channel with a path was accepted")
	}
}

func Example() {
	root, _ := os.MkdirTemp("", "sys")
	defer os.RemoveAll(root)
	dir := filepath.Join(root, "class/hwmon/hwmon3")
	os.MkdirAll(dir, 0o755)
	os.WriteFile(filepath.Join(dir, "name"), []byte("ntc_thermistor\n"), 0o644)
	os.WriteFile(filepath.Join(dir, "temp1_input"), []byte("26500\n"), 0o644)

	d, err := sysfs.NewHwmon("ntc_thermistor", "temp1", sysfs.Opts{Root: root}) // on a board leave Root empty
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := d.Read(context.Background())
	fmt.Println(r.Value, err)
	// Output: 26.5 <nil>
}
