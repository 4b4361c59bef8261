// Package sysfs reads sensors that the Linux kernel drives itself: those of
// the industrial I/O subsystem (IIO), such as a ranger or a hygrometer bound
// by a device tree overlay, and those of hwmon, such as a thermistor or the
// board's own thermometer.
//
// An IIO channel is read as its files say: in_distance_input, or in_distance_raw
// with scale and offset, value = (raw + offset) · scale, in metres,
// thousandths of a degree or of a percent (Documentation/ABI/testing/
// sysfs-bus-iio). A proximity channel without a scale has no unit, only more
// and less, and is refused. hwmon gives thousandths of a degree or of a percent
// (Documentation/hwmon/sysfs-interface.rst).
//
// The numbers in iio:device0 and hwmon0 change from boot to boot, so a device
// is best found by the name its driver gives it; its folder, from / or below
// /sys, does as well.
package sysfs

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"leavend/sensor"
	"leavend/sensor/internal/blocking"
)

// Root is where the kernel shows its devices.
const Root = "/sys"

// Opts holds what a channel may need beyond its name.
type Opts struct {
	Root     string  // in place of Root
	Min, Max float64 // range of a reading; both 0: 1 to 4000 mm, -40 to 125 °C, 0 to 100 %
}

// class is one of the two subsystems.
type class struct {
	name   string
	folder string // below Root, one subfolder a device
}

func iio() class { return class{"iio", "bus/iio/devices"} }

func hwmon() class { return class{"hwmon", "class/hwmon"} }

// Dev is one channel of one device.
type Dev struct {
	class    class
	root     string
	device   string
	input    string
	quantity sensor.Quantity
	min, max float64
	unit     float64 // the file's unit in ours: 1000 for metres in mm
	call     *blocking.Call
	open     *channel // nil until found, and after an error
}

// NewIIO returns a channel of an IIO device. input is the channel's name, such
// as in_distance, in_proximity or in_temp; empty means the usual one of the
// quantity.
func NewIIO(device, input string, q sensor.Quantity, opts Opts) (*Dev, error) {
	usual := map[sensor.Quantity]string{
		sensor.Distance: "in_distance", sensor.Temperature: "in_temp", sensor.Humidity: "in_humidityrelative",
	}[q]
	if usual == "" {
		return nil, fmt.Errorf("iio %s: it must measure a distance, a temperature or a humidity", device)
	}
	if input == "" {
		input = usual
	}
	return newDev(iio(), device, input, q, opts)
}

// NewHwmon returns a channel of a hwmon device. input is temp1, temp2 or
// humidity1; empty means temp1.
func NewHwmon(device, input string, opts Opts) (*Dev, error) {
	if input == "" {
		input = "temp1"
	}
	switch {
	case strings.HasPrefix(input, "temp"):
		return newDev(hwmon(), device, input, sensor.Temperature, opts)
	case strings.HasPrefix(input, "humidity"):
		return newDev(hwmon(), device, input, sensor.Humidity, opts)
	}
	return nil, fmt.Errorf("hwmon %s: input %q is neither temp1 nor humidity1 nor a later one", device, input)
}

// newDev checks what both kinds share.
func newDev(c class, device, input string, q sensor.Quantity, opts Opts) (*Dev, error) {
	input = strings.TrimSuffix(strings.TrimSuffix(input, "_raw"), "_input")
	if device == "" || strings.ContainsAny(input, "/\x00") || strings.Contains(device, "..") {
		return nil, fmt.Errorf("%s %q %q: the name of a device and of its channel are needed", c.name, device, input)
	}
	if opts.Root == "" {
		opts.Root = Root
	}
	d := &Dev{class: c, root: opts.Root, device: device, input: input, quantity: q, min: opts.Min, max: opts.Max}
	limits := map[sensor.Quantity][3]float64{sensor.Distance: {1000, 1, 4000}, sensor.Temperature: {0.001, -40, 125}, sensor.Humidity: {0.001, 0, 100}}[q]
	d.unit = limits[0]
	if d.min == 0 && d.max == 0 {
		d.min, d.max = limits[1], limits[2]
	}
	if !(d.min < d.max) {
		return nil, fmt.Errorf("%s: range %v to %v is empty", d, d.min, d.max)
	}
	d.call = blocking.New(d.measure)
	return d, nil
}

// String names the subsystem, the device and the channel.
func (d *Dev) String() string { return d.class.name + " " + d.device + " " + d.input }

// Halt does nothing: the kernel's driver has the device.
func (d *Dev) Halt() error { return nil }

// Read returns the channel's value. A read may take the kernel a while; when
// ctx ends first it is left behind.
func (d *Dev) Read(ctx context.Context) (sensor.Reading, error) {
	r, err := d.call.Do(ctx)
	if err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", d, err)
	}
	return r, nil
}

// measure finds the channel if need be and reads it.
func (d *Dev) measure() (sensor.Reading, error) {
	at := time.Now()
	if d.open == nil {
		var err error
		if d.open, err = d.find(); err != nil {
			return sensor.Reading{}, err
		}
	}
	v, err := d.open.read()
	if err != nil {
		d.open.close()
		d.open = nil
		if blocking.Gone(err) {
			err = fmt.Errorf("the device is gone: unplugged, or its driver was unloaded: %w", err)
		}
		return sensor.Reading{}, err
	}
	r := sensor.Reading{At: at, Quantity: d.quantity, Value: v * d.unit}
	if !(r.Value >= d.min && r.Value <= d.max) {
		return sensor.Reading{}, &sensor.Refused{Reading: r, Reason: fmt.Sprintf("outside %v to %v", d.min, d.max)}
	}
	return r, nil
}

// ErrMissing says that no device has the name.
var ErrMissing = errors.New("the kernel shows no such device")

// find opens the channel's files.
func (d *Dev) find() (*channel, error) {
	switch {
	case filepath.IsAbs(d.device):
		return openChannel(d.device, d.input)
	case strings.Contains(d.device, "/"):
		return openChannel(filepath.Join(d.root, d.device), d.input)
	}
	dir, err := d.byName()
	if err != nil {
		return nil, err
	}
	return openChannel(dir, d.input)
}

// byName looks a device up by the name its driver gives it, or by the name of
// its folder.
func (d *Dev) byName() (string, error) {
	found, err := list(d.root, d.class)
	if err != nil {
		return "", err
	}
	var dirs, names []string
	for _, f := range found {
		if f.name == d.device || filepath.Base(f.dir) == d.device {
			dirs = append(dirs, f.dir)
		}
		names = append(names, f.name)
	}
	switch len(dirs) {
	case 1:
		return dirs[0], nil
	case 0:
		return "", fmt.Errorf("%w; there are: %s", ErrMissing, strings.Join(names, ", "))
	}
	return "", fmt.Errorf("%d devices have this name; give the folder of one: %s", len(dirs), strings.Join(dirs, ", "))
}

// shown is one device that the kernel shows.
type shown struct{ name, dir string }

// list returns the devices of one class, in order. A class that the kernel
// does not have has none.
func list(root string, c class) ([]shown, error) {
	entries, err := os.ReadDir(filepath.Join(root, c.folder))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []shown
	for _, e := range entries {
		dir := filepath.Join(root, c.folder, e.Name())
		name, err := os.ReadFile(filepath.Join(dir, "name"))
		if err != nil {
			continue // Triggers and buffers have no name.
		}
		all = append(all, shown{strings.TrimSpace(string(name)), dir})
	}
	sort.Slice(all, func(i, j int) bool { return all[i].dir < all[j].dir })
	return all, nil
}

// inputs lists the channels in a device's folder.
func inputs(dir string) (names []string) {
	entries, _ := os.ReadDir(dir)
	seen := map[string]bool{}
	for _, e := range entries {
		name, raw := strings.CutSuffix(e.Name(), "_raw")
		if !raw {
			name, raw = strings.CutSuffix(e.Name(), "_input")
		}
		if raw && known(name) && !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names
}

// known reports whether a channel's name is of a kind that can be read.
func known(name string) bool {
	for _, kind := range []string{"in_distance", "in_proximity", "in_temp", "in_humidityrelative", "temp", "humidity"} {
		if strings.HasPrefix(name, kind) {
			return true
		}
	}
	return false
}
