package check

import (
	"fmt"
	"strconv"
	"strings"
)

// Power checks whether a Raspberry Pi gets enough voltage. Too little makes
// sensors drop out and cards lose data, and is a very common cause of both.
func (b Board) Power() (Result, bool) {
	const topic = "power"
	const do = "use the supply made for the board, and a short, thick cable; power the mat from a supply of its own"
	for _, f := range b.glob("/sys/class/hwmon/hwmon*/name") {
		if b.read(f) == "rpi_volt" && b.read(strings.TrimSuffix(f, "name")+"in0_lcrit_alarm") == "1" {
			return Result{Topic: topic, Level: Warn, Says: "the board's supply voltage is too low.", Do: do}, true
		}
	}
	// Raspberry Pi documentation, "vcgencmd get_throttled": bit 0 is now, bit
	// 16 is since the start.
	text := b.read("/sys/devices/platform/soc/soc:firmware/get_throttled")
	if text == "" {
		return Result{}, false
	}
	bits, err := strconv.ParseUint(strings.TrimPrefix(text, "0x"), 16, 32)
	switch {
	case err != nil:
		return Result{}, false
	case bits&1 != 0:
		return Result{Topic: topic, Level: Warn, Says: "the board's supply voltage is too low.", Do: do}, true
	case bits&(1<<16) != 0:
		return Result{Topic: topic, Level: Warn, Says: "the board's supply voltage has been too low since it was started.", Do: do}, true
	}
	return Result{Topic: topic, Level: Pass, Says: "the supply voltage has held since the board was started."}, true
}

// Pin is a GPIO line of a board's header that something is wired to.
type Pin struct {
	Number int
	User   string // the key that names it
}

// Pins finds lines that a Raspberry Pi has given to something else already:
// I²C bus 1, and the data wire of the kernel's 1-Wire bus.
func (b Board) Pins(pins []Pin, i2c bool) []Result {
	if !b.raspberry() {
		return nil
	}
	taken := map[int]string{}
	if i2c {
		taken[2], taken[3] = "SDA of I²C bus 1", "SCL of I²C bus 1"
	}
	text, config := b.bootConfig()
	if pin, ok := oneWirePin(text); ok {
		taken[pin] = "the 1-Wire bus (" + config + ")"
	}
	var out []Result
	for _, p := range pins {
		if by, ok := taken[p.Number]; ok {
			out = append(out, Result{Topic: "gpio", Level: Fail, Says: fmt.Sprintf("%s is GPIO %d, which is %s.", p.User, p.Number, by),
				Do: fmt.Sprintf("wire it to another line, and set %s to that", p.User)})
		}
	}
	return out
}

// oneWirePin returns the line that the 1-Wire overlay uses; 4 if it does not
// say (README of the Raspberry Pi's overlays).
func oneWirePin(text string) (int, bool) {
	for _, line := range strings.Split(text, "\n") {
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
