//go:build linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// The board's files.
const (
	leavend = "/leavend"
	conf    = "/run/leavend.toml"
	probe   = "/run/w1/28-0000000000a1/temperature"
	dataDir = "/var/lib/leavend"
	logFile = "/run/leavend.log"
)

// lineNumber is the mat's line: GPIO 17, which starts as an input.
const lineNumber = 17

// config is short where the daemon allows it, so that a scene takes less than
// a minute.
const config = `data_dir = "/var/lib/leavend"
[[sensor]]
name = "crumb"
chip = "ds18b20"
path = "/run/w1"
id = "28-0000000000a1"
[[sensor]]
name = "eye"
chip = "recording"
file = "/run/eye.csv"
loop = true
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "crumb"
every = "2s"
[mat]
output = "gpio"
line = "gpiochip0:17"
setpoint_c = 25.0
stale_after = "10s"
lease = "5s"
min_off = "30s"
[mqtt]
on = false
[web]
on = false
[metrics]
on = false
`

// board is the virtual board with the daemon on it.
type board struct {
	cmd  *exec.Cmd
	done chan error
	pins string // the pin controller's own list
}

// setUp writes what the daemon reads.
func (b *board) setUp() error {
	lists, err := filepath.Glob("/sys/kernel/debug/pinctrl/*gpio*/pins")
	if err != nil || len(lists) == 0 {
		return fmt.Errorf("no pin list in debugfs (%v)", err)
	}
	b.pins = lists[0]
	// The board has no clock chip; scenes that step the clock need a time that
	// is not 1970.
	tv := unix.NsecToTimeval(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).UnixNano())
	if err := unix.Settimeofday(&tv); err != nil {
		return err
	}
	var eye bytes.Buffer
	eye.WriteString("time,distance_mm,temperature_c,note\n")
	for i := range 400 {
		at := time.Date(2026, 1, 1, 0, 0, 10*i, 0, time.UTC)
		fmt.Fprintf(&eye, "%s,120.0,21.0,\n", at.Format(time.RFC3339))
	}
	if err := os.MkdirAll(filepath.Dir(probe), 0o755); err != nil {
		return err
	}
	return errors.Join(os.WriteFile(conf, []byte(config), 0o600), os.WriteFile("/run/eye.csv", eye.Bytes(), 0o644), b.say(21))
}

// say lets the probe read c degrees Celsius, as the kernel would show it.
func (b *board) say(c float64) error { return b.write(fmt.Sprintf("%8d\n", int(c*1000))) }

// silence lets the probe answer with what is no number.
func (b *board) silence() error { return b.write("no probe\n") }

// write changes the probe's file in place and in one go: the daemon keeps the
// file open, as it must with the kernel's.
func (b *board) write(text string) error {
	f, err := os.OpenFile(probe, os.O_WRONLY|os.O_CREATE, 0o644)
	if err != nil {
		return err
	}
	_, err = f.WriteAt([]byte(text), 0)
	return errors.Join(err, f.Close())
}

// level is what the line does, as the kernel's pin list says: "out high",
// "out low", or "in" when nobody drives it and the pull-down holds it.
func (b *board) level() string {
	list, err := os.ReadFile(b.pins)
	if err != nil {
		return err.Error()
	}
	for l := range strings.Lines(string(list)) {
		if !strings.HasPrefix(l, fmt.Sprintf("pin %d (", lineNumber)) {
			continue
		}
		switch {
		case strings.Contains(l, "function gpio_out in hi"):
			return "out high"
		case strings.Contains(l, "function gpio_out in lo"):
			return "out low"
		case strings.Contains(l, "function gpio_in"):
			return "in"
		}
		return strings.TrimSpace(l)
	}
	return "line not listed"
}

// heats reports whether the line would switch a mat on.
func (b *board) heats() bool { return b.level() == "out high" }

// start runs the daemon with an empty history.
func (b *board) start(fresh bool) error {
	if fresh {
		for _, f := range glob(dataDir + "/*") {
			_ = os.RemoveAll(f)
		}
	}
	if err := b.say(20); err != nil {
		return err
	}
	log, err := os.Create(logFile)
	if err != nil {
		return err
	}
	b.cmd = exec.Command(leavend, "run", "--config", conf)
	b.cmd.Stdout, b.cmd.Stderr = log, log
	if err := b.cmd.Start(); err != nil {
		return err
	}
	b.done = make(chan error, 1)
	go func(c *exec.Cmd, done chan<- error) { done <- c.Wait(); log.Close() }(b.cmd, b.done)
	return nil
}

func glob(pattern string) []string { f, _ := filepath.Glob(pattern); return f }

// heat starts the daemon and waits until the mat is on. It fails when the
// line was high before the pause was served.
func (b *board) heat() (after time.Duration, err error) {
	if err := b.start(true); err != nil {
		return 0, err
	}
	return b.until(true, 3*time.Minute)
}

// until waits for the mat to be on or off, and returns how long that took.
func (b *board) until(on bool, most time.Duration) (time.Duration, error) {
	began := time.Now()
	for time.Since(began) < most {
		if b.heats() == on {
			return time.Since(began), nil
		}
		select {
		case err := <-b.done:
			b.done <- err
			if on {
				return 0, fmt.Errorf("the daemon ended: %v\n%s", err, tail())
			}
		default:
		}
		time.Sleep(10 * time.Millisecond)
	}
	return 0, fmt.Errorf("the line is %s after %s\n%s", b.level(), most, tail())
}

// tail is the end of the daemon's log.
func tail() string {
	log, _ := os.ReadFile(logFile)
	return string(log[max(0, len(log)-1500):])
}

// signal sends the daemon a signal.
func (b *board) signal(s unix.Signal) error { return unix.Kill(b.cmd.Process.Pid, s) }

// ended waits for the daemon's end and says how it ended.
func (b *board) ended(most time.Duration) string {
	select {
	case err := <-b.done:
		b.done <- err
		if err == nil {
			return "exit 0"
		}
		return err.Error()
	case <-time.After(most):
		return "still running"
	}
}

// stop makes sure that no daemon runs and the disk is empty again.
func (b *board) stop() {
	if b.cmd == nil {
		return
	}
	_ = b.signal(unix.SIGKILL)
	b.ended(10 * time.Second)
	b.cmd = nil
	_ = os.Remove(dataDir + "/ballast")
}

// matOff runs `leavend mat off`, as systemd does after the daemon has ended.
func matOff() (took time.Duration, said string) {
	began := time.Now()
	out, err := exec.Command(leavend, "mat", "off").CombinedOutput()
	took = time.Since(began)
	said = strings.TrimSpace(string(out))
	if err != nil {
		said = err.Error() + ": " + said
	}
	return took, said
}
