package check

import (
	"os"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// GPIO checks that the GPIO chip is there and may be used.
func (b Board) GPIO(chip string) (Result, bool) {
	r, ok := b.device("gpio", "/dev/"+chip, "gpio", os.O_RDWR)
	if ok || b.has("/dev/"+chip) {
		return r, ok
	}
	if there := b.glob("/dev/gpiochip*"); len(there) > 0 {
		r.Do = text.Say("check.gpio.other_chip", text.Name("chip", strings.TrimPrefix(there[0], "/dev/")), names("chips", there))
	} else {
		r.Do = text.Say("check.gpio.no_lines")
	}
	return r, false
}

// Persistence says what becomes of a line that is high when leavend is killed
// and can switch nothing off any more: whether the kernel lets go of it or
// keeps driving it. The heater hangs on the answer.
func (b Board) Persistence() Result {
	const topic, strict = "mat after a crash", "dtparam=strict_gpiod"
	boot, file := b.bootConfig()
	cmdline := " " + b.read("/proc/cmdline") + " "
	letsGo := func(where string) Result { return pass(topic, "check.crash.lets_go", text.Name("where", where)) }
	for _, module := range []string{"pinctrl_bcm2835", "pinctrl_rp1"} {
		switch v := b.read("/sys/module/" + module + "/parameters/persist_gpio_outputs"); v {
		case "N", "0":
			return letsGo(module + ".persist_gpio_outputs is " + v)
		case "Y", "1":
			r := warn(topic, "check.crash.keeps", text.Name("where", module+".persist_gpio_outputs is "+v))
			if r.Do = text.Say("check.crash.strict", text.Name("file", file)); setting(boot, strict) {
				r.Do = text.Say("check.device.reboot", text.Name("file", file))
			}
			return r
		}
	}
	switch {
	case strings.Contains(cmdline, "persist_gpio_outputs=n") || strings.Contains(cmdline, "persist_gpio_outputs=0"):
		return letsGo("/proc/cmdline")
	case setting(boot, strict):
		return letsGo(file + ": " + strict)
	case b.raspberry():
		r := warn(topic, "check.crash.keeps_raspberry")
		r.Do = text.Say("check.crash.strict", text.Name("file", file))
		return r
	}
	return note(topic, "check.crash.unknown")
}
