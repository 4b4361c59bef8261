package check

import (
	"os"
	"strings"
)

// GPIO checks that the GPIO chip is there and may be used.
func (b Board) GPIO(chip string) (Result, bool) {
	r, ok := b.device("gpio", "/dev/"+chip, "gpio", os.O_RDWR)
	if ok || b.has("/dev/"+chip) {
		return r, ok
	}
	if there := b.glob("/dev/gpiochip*"); len(there) > 0 {
		r.Do = "set the line to a chip that is there, such as \"" + strings.TrimPrefix(there[0], "/dev/") + ":17\": " + strings.Join(there, ", ")
	} else {
		r.Do = "this board shows no GPIO lines; run leavend on a board that has them, or use a plug"
	}
	return r, false
}

// Persistence says what becomes of a line that is high when leavend is killed
// and can switch nothing off any more: whether the kernel lets go of it or
// keeps driving it. The heater hangs on the answer.
func (b Board) Persistence() Result {
	const topic = "mat after a crash"
	const strict = "dtparam=strict_gpiod"
	text, config := b.bootConfig()
	cmdline := " " + b.read("/proc/cmdline") + " "
	for _, module := range []string{"pinctrl_bcm2835", "pinctrl_rp1"} {
		v := b.read("/sys/module/" + module + "/parameters/persist_gpio_outputs")
		switch v {
		case "N", "0":
			return Result{Topic: topic, Level: Pass, Says: "if leavend is killed, the kernel lets go of the mat's line, and the pull-down resistor switches the mat off (" + module + ".persist_gpio_outputs is N)."}
		case "Y", "1":
			r := Result{Topic: topic, Level: Warn, Says: "if leavend is killed outright, the kernel keeps the mat's line as it was, and a heating mat heats on until systemd runs 'leavend mat off' (" + module + ".persist_gpio_outputs is Y)."}
			if setting(text, strict) {
				r.Do = config + " already says " + strict + ", so restart the board: sudo reboot"
			} else {
				r.Do = "let the kernel let go of it: echo " + strict + " | sudo tee -a " + config + ", then sudo reboot"
			}
			return r
		}
	}
	switch {
	case strings.Contains(cmdline, "persist_gpio_outputs=n") || strings.Contains(cmdline, "persist_gpio_outputs=0"):
		return Result{Topic: topic, Level: Pass, Says: "the kernel's command line tells it to let go of the mat's line if leavend is killed; the pull-down resistor then switches the mat off."}
	case setting(text, strict):
		return Result{Topic: topic, Level: Pass, Says: config + " has " + strict + ": the kernel lets go of the mat's line if leavend is killed, and the pull-down resistor switches the mat off."}
	case b.raspberry():
		return Result{Topic: topic, Level: Warn,
			Says: "on Raspberry Pi OS the kernel keeps the mat's line as it was if leavend is killed outright, and a heating mat heats on until systemd runs 'leavend mat off'.",
			Do:   "let the kernel let go of it: echo " + strict + " | sudo tee -a " + config + ", then sudo reboot"}
	}
	return Result{Topic: topic, Level: Note, Says: "most kernels let go of a line whose program is killed, but no setting here says so; the driver needs a pull-down resistor in any case."}
}
