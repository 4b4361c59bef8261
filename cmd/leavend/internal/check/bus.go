package check

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// Buses returns the numbers of the I²C buses that the board has, in order.
func (b Board) Buses() []int {
	var out []int
	for _, path := range b.glob("/dev/i2c-*") {
		if n, err := strconv.Atoi(strings.TrimPrefix(path, "/dev/i2c-")); err == nil {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out
}

// I2C checks that an I²C bus is there and may be used.
func (b Board) I2C(bus int) (Result, bool) {
	path := fmt.Sprintf("/dev/i2c-%d", bus)
	r, ok := b.device(onBus(bus), path, "i2c", os.O_RDWR)
	if ok || b.has(path) {
		return r, ok
	}
	boot, file := b.bootConfig()
	switch {
	case len(b.glob("/sys/bus/i2c/devices/i2c-*")) > 0 && len(b.glob("/dev/i2c-*")) == 0:
		r.Do = text.Say("check.i2c.modprobe")
	case len(b.glob("/dev/i2c-*")) > 0:
		r.Do = text.Say("check.i2c.other_bus", names("buses", b.glob("/dev/i2c-*")))
	case b.raspberry() && setting(boot, "dtparam=i2c_arm=on", "dtparam=i2c=on", "dtparam=i2c1=on"):
		r.Do = text.Say("check.device.reboot", text.Name("file", file))
	case b.raspberry():
		r.Do = text.Say("check.i2c.enable", text.Name("file", file))
	default:
		r.Do = text.Say("check.i2c.enable_other")
	}
	return r, false
}

// OneWire checks that the kernel has a 1-Wire bus, and returns the numbers of
// the thermometers on it.
func (b Board) OneWire() (probes []string, r Result, ok bool) {
	const topic = "1-wire"
	boot, file := b.bootConfig()
	masters := b.glob("/sys/bus/w1/devices/w1_bus_master*")
	if len(masters) == 0 {
		r = fail(topic, "check.one_wire.none")
		switch {
		case b.raspberry() && overlay(boot, "w1-gpio"):
			r.Do = text.Say("check.device.reboot", text.Name("file", file))
		case b.raspberry():
			r.Do = text.Say("check.one_wire.enable", text.Name("file", file))
		default:
			r.Do = text.Say("check.one_wire.enable_other")
		}
		return nil, r, false
	}
	for _, family := range []string{"28", "10", "22", "42"} {
		for _, p := range b.glob("/sys/bus/w1/devices/" + family + "-*") {
			probes = append(probes, filepath.Base(p))
		}
	}
	if len(probes) == 0 {
		return nil, fail(topic, "check.one_wire.silent"), false
	}
	return probes, pass(topic, "check.one_wire.found", text.Count("n", len(probes)), names("ids", probes)), true
}

// Together says whether several 1-Wire probes convert at once: 0.75 s for all
// of them, and not for each (DS18B20 data sheet, at 12 bits).
func (b Board) Together(probes int) Result {
	const topic, each = "1-wire", 0.75
	files := b.glob("/sys/bus/w1/devices/w1_bus_master*/therm_bulk_read")
	n, took := text.Number("n", float64(probes)), text.Number("took", each*float64(probes))
	switch {
	case len(files) == 0:
		return note(topic, "check.one_wire.apart_kernel", n, took)
	case len(files) > 1:
		return note(topic, "check.one_wire.apart_buses", n, took)
	case b.mayWrite(files[0]) != nil:
		return warn(topic, "check.one_wire.apart_rights", n, took, text.Name("file", files[0]))
	}
	return pass(topic, "check.one_wire.together", n, text.Number("took", each))
}

// mayWrite returns nil when a file may be written. It writes nothing.
func (b Board) mayWrite(file string) error {
	f, err := os.OpenFile(b.path(file), os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return f.Close()
}

// Probe checks that a 1-Wire thermometer of that number is on the bus.
func (b Board) Probe(sensor, id string, probes []string) Result {
	topic := "sensor " + sensor
	switch {
	case id == "" && len(probes) == 1:
		return pass(topic, "check.probe.only", text.Name("id", probes[0]))
	case id == "":
		return fail(topic, "check.probe.which", text.Number("n", float64(len(probes))), text.Name("id", probes[0]))
	case slices.Contains(probes, id):
		return pass(topic, "check.probe.there", text.Name("id", id))
	}
	return fail(topic, "check.probe.missing", text.Name("id", id), names("ids", probes))
}

// overlay reports whether the boot configuration loads a device-tree overlay,
// whatever parameters it is given.
func overlay(boot, name string) bool {
	for _, line := range strings.Split(boot, "\n") {
		rest, ok := strings.CutPrefix(strings.TrimSpace(line), "dtoverlay="+name)
		if ok && (rest == "" || rest[0] == ',' || rest[0] == ' ' || rest[0] == '-') {
			return true
		}
	}
	return false
}
