package check

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
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
	r, ok := b.device(fmt.Sprintf("i2c bus %d", bus), path, "i2c", os.O_RDWR)
	if ok || b.has(path) {
		return r, ok
	}
	text, config := b.bootConfig()
	switch {
	case len(b.glob("/sys/bus/i2c/devices/i2c-*")) > 0 && len(b.glob("/dev/i2c-*")) == 0:
		r.Do = "load the kernel's I²C device files: sudo modprobe i2c-dev, and for every start: echo i2c-dev | sudo tee /etc/modules-load.d/i2c.conf"
	case len(b.glob("/dev/i2c-*")) > 0:
		r.Do = fmt.Sprintf("set bus to one that is there: %s", strings.Join(b.glob("/dev/i2c-*"), ", "))
	case b.raspberry() && setting(text, "dtparam=i2c_arm=on", "dtparam=i2c=on", "dtparam=i2c1=on"):
		r.Do = config + " already enables it, so restart the board: sudo reboot"
	case b.raspberry():
		r.Do = fmt.Sprintf("enable I²C: echo dtparam=i2c_arm=on | sudo tee -a %s, then sudo reboot", config)
	default:
		r.Do = "enable the board's I²C bus in its device tree; on a Raspberry Pi that is dtparam=i2c_arm=on in /boot/firmware/config.txt"
	}
	return r, false
}

// OneWire checks that the kernel has a 1-Wire bus, and returns the numbers of
// the thermometers on it.
func (b Board) OneWire() (probes []string, r Result, ok bool) {
	const topic = "1-wire"
	text, config := b.bootConfig()
	masters := b.glob("/sys/bus/w1/devices/w1_bus_master*")
	if len(masters) == 0 {
		r = Result{Topic: topic, Level: Fail, Says: "the kernel has no 1-Wire bus."}
		switch {
		case b.raspberry() && overlay(text, "w1-gpio"):
			r.Do = config + " already enables it, so restart the board: sudo reboot"
		case b.raspberry():
			r.Do = fmt.Sprintf("enable it, with the probes' data wire on GPIO 4: echo dtoverlay=w1-gpio,gpiopin=4 | sudo tee -a %s, then sudo reboot", config)
		default:
			r.Do = "enable the w1-gpio overlay of the board; on a Raspberry Pi that is dtoverlay=w1-gpio,gpiopin=4 in /boot/firmware/config.txt"
		}
		return nil, r, false
	}
	for _, family := range []string{"28", "10", "22", "42"} {
		for _, p := range b.glob("/sys/bus/w1/devices/" + family + "-*") {
			probes = append(probes, filepath.Base(p))
		}
	}
	if len(probes) == 0 {
		return nil, Result{Topic: topic, Level: Fail, Says: "the 1-Wire bus is there, but no thermometer answers on it.",
			Do: "check the wiring: red to 3.3 V, black to ground, data to the overlay's GPIO, and a resistor of 4.7 kΩ between data and 3.3 V"}, false
	}
	return probes, Result{Topic: topic, Level: Pass, Says: fmt.Sprintf("%d found: %s.", len(probes), strings.Join(probes, ", "))}, true
}

// Together says whether several 1-Wire probes convert at once: 0.75 s for all
// of them, and not for each (DS18B20 data sheet, at 12 bits).
func (b Board) Together(probes int) Result {
	r := Result{Topic: "1-wire", Level: Note}
	files := b.glob("/sys/bus/w1/devices/w1_bus_master*/therm_bulk_read")
	apart := fmt.Sprintf("the %d probes convert one after the other, which takes %.1f s a round", probes, 0.75*float64(probes))
	switch {
	case len(files) == 0:
		r.Says = apart + ": the kernel is too old to let them convert together (before 5.10)."
	case len(files) > 1:
		r.Says = apart + ": they hang on several buses."
	case b.mayWrite(files[0]) != nil:
		r.Level, r.Says = Warn, apart+": leavend's user may not write "+files[0]+"."
		r.Do = "install leavend's udev rule, or once: sudo chgrp gpio " + files[0] + " && sudo chmod g+w " + files[0]
	default:
		r.Level, r.Says = Pass, fmt.Sprintf("the %d probes convert together, in 0.75 s.", probes)
	}
	return r
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
	r := Result{Topic: "sensor " + sensor, Level: Pass}
	switch {
	case id == "" && len(probes) == 1:
		r.Says = fmt.Sprintf("it is %s, the only thermometer on the 1-Wire bus.", probes[0])
	case id == "":
		r.Level = Fail
		r.Says = fmt.Sprintf("its number is not given, and there are %d thermometers.", len(probes))
		r.Do = fmt.Sprintf("add the number of the right one to the sensor, such as id = %q; warm one in your hand and see which changes: cat /sys/bus/w1/devices/28-*/temperature", probes[0])
	case contains(probes, id):
		r.Says = id + " is on the 1-Wire bus."
	default:
		r.Level = Fail
		r.Says = id + " is not on the 1-Wire bus."
		r.Do = "check its wires, or set id to one of those found: " + strings.Join(probes, ", ")
	}
	return r
}

// overlay reports whether the boot configuration loads a device-tree overlay,
// whatever parameters it is given.
func overlay(text, name string) bool {
	for _, line := range strings.Split(text, "\n") {
		rest, ok := strings.CutPrefix(strings.TrimSpace(line), "dtoverlay="+name)
		if ok && (rest == "" || rest[0] == ',' || rest[0] == ' ' || rest[0] == '-') {
			return true
		}
	}
	return false
}

func contains(all []string, one string) bool {
	for _, s := range all {
		if s == one {
			return true
		}
	}
	return false
}
