package check

import (
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// Power checks whether a Raspberry Pi gets enough voltage. Too little makes
// sensors drop out and cards lose data, and is a very common cause of both.
func (b Board) Power() (Result, bool) {
	const topic = "power"
	for _, f := range b.glob("/sys/class/hwmon/hwmon*/name") {
		if b.read(f) == "rpi_volt" && b.read(strings.TrimSuffix(f, "name")+"in0_lcrit_alarm") == "1" {
			return warn(topic, "check.power.low"), true
		}
	}
	// Raspberry Pi documentation, "vcgencmd get_throttled": bit 0 is now, bit
	// 16 is since the start.
	bits, err := strconv.ParseUint(strings.TrimPrefix(b.read("/sys/devices/platform/soc/soc:firmware/get_throttled"), "0x"), 16, 32)
	switch {
	case err != nil:
		return Result{}, false
	case bits&1 != 0:
		return warn(topic, "check.power.low"), true
	case bits&(1<<16) != 0:
		return warn(topic, "check.power.was_low"), true
	}
	return pass(topic, "check.power.good"), true
}

// Pin is a GPIO line of a board's header that something is wired to.
type Pin struct {
	Number int
	User   text.Message // the key that names it, or what it is for
	chip   string
}

// Pins finds lines that a Raspberry Pi has given to something else already:
// I²C bus 1, and the data wire of the kernel's 1-Wire bus.
func (b Board) Pins(pins []Pin, i2c bool) []Result {
	if !b.raspberry() {
		return nil
	}
	taken := map[int]text.Message{}
	if i2c {
		taken[2], taken[3] = text.Say("check.gpio.by_wire", text.Name("wire", "SDA")), text.Say("check.gpio.by_wire", text.Name("wire", "SCL"))
	}
	boot, file := b.bootConfig()
	if pin, ok := oneWirePin(boot); ok {
		taken[pin] = text.Say("check.gpio.by_one_wire", text.Name("file", file))
	}
	var out []Result
	for _, p := range pins {
		if by, ok := taken[p.Number]; ok {
			out = append(out, fail("gpio", "check.gpio.taken", text.Sub("key", p.User), text.Number("pin", float64(p.Number)), text.Sub("by", by)))
		}
	}
	return out
}

// oneWirePin returns the line that the 1-Wire overlay uses; 4 if it does not
// say (README of the Raspberry Pi's overlays).
func oneWirePin(boot string) (int, bool) {
	for _, line := range strings.Split(boot, "\n") {
		rest, ok := strings.CutPrefix(strings.TrimSpace(line), "dtoverlay=w1-gpio")
		if !ok {
			continue
		}
		pin := 4
		for _, param := range strings.Split(rest, ",") {
			if v, ok := strings.CutPrefix(strings.TrimSpace(param), "gpiopin="); ok {
				if n, err := strconv.Atoi(v); err == nil {
					pin = n
				}
			}
		}
		return pin, true
	}
	return 0, false
}
