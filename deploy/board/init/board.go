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
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// The board's files.
const (
	leavend   = "/leavend"
	conf      = "/run/leavend.toml"
	probe     = "/run/w1/28-0000000000a1/temperature"
	usualData = "/var/lib/leavend"
	usualRun  = "/run/leavend"
	otherData = "/var/lib/bread" // a data folder that is not the default, without a runtime folder
	logFile   = "/run/leavend.log"
)

// The users on the board: the daemon's, and one that has nothing to do with it.
const (
	daemonUser = 1000
	otherUser  = 1001
)

// lineNumber is the mat's line: GPIO 17, which starts as an input.
const lineNumber = 17

// config is short where the daemon allows it, so that a scene takes less than
// a minute.
const config = `[[sensor]]
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
switches_per_hour = 30
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
	data string // the data folder
	run  string // the runtime folder, as systemd gives it; "" for none
}

// place chooses the daemon's folders, and empties them.
func (b *board) place(data, run string) error {
	b.data, b.run = data, run
	for _, dir := range []string{usualData, usualRun, otherData} {
		for _, f := range glob(dir + "/*") {
			if err := os.RemoveAll(f); err != nil {
				return err
			}
		}
	}
	for _, dir := range []string{data, run} {
		if dir == "" {
			continue
		}
		if err := errors.Join(os.MkdirAll(dir, 0o750), os.Chmod(dir, 0o750), os.Chown(dir, daemonUser, daemonUser)); err != nil {
			return err
		}
	}
	return errors.Join(os.WriteFile(conf, fmt.Appendf(nil, "data_dir = %q\n%s", data, config), 0o644), os.Chmod(conf, 0o644))
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
	chips, err := filepath.Glob("/dev/gpiochip*")
	if err != nil || len(chips) == 0 {
		return fmt.Errorf("no GPIO chip (%v)", err)
	}
	for _, chip := range chips {
		if err := os.Chown(chip, daemonUser, daemonUser); err != nil {
			return err
		}
	}
	return errors.Join(b.place(usualData, usualRun), os.WriteFile("/run/eye.csv", eye.Bytes(), 0o644), b.say(21))
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
// "out low", or "in" when no driver holds it and the pull-down holds it. A line
// that cannot be told is an error, and no "off".
func (b *board) level() (string, error) {
	list, err := os.ReadFile(b.pins)
	if err != nil {
		return "", fmt.Errorf("the line cannot be told: %w", err)
	}
	return levelIn(string(list))
}

func levelIn(list string) (string, error) {
	for l := range strings.Lines(list) {
		if !strings.HasPrefix(l, fmt.Sprintf("pin %d (", lineNumber)) {
			continue
		}
		switch {
		case strings.Contains(l, "function gpio_out in hi"):
			return "out high", nil
		case strings.Contains(l, "function gpio_out in lo"):
			return "out low", nil
		case strings.Contains(l, "function gpio_in"):
			return "in", nil
		}
		return "", fmt.Errorf("the line cannot be told from %q", strings.TrimSpace(l))
	}
	return "", fmt.Errorf("line %d is not in the kernel's list", lineNumber)
}

// start runs the daemon, with an empty history if it is fresh.
func (b *board) start(fresh bool) error {
	if fresh {
		if err := b.place(b.data, b.run); err != nil {
			return err
		}
	}
	if err := b.say(20); err != nil {
		return err
	}
	log, err := os.Create(logFile)
	if err != nil {
		return err
	}
	b.cmd = b.as(daemonUser, "run", "--config", conf)
	b.cmd.Stdout, b.cmd.Stderr = log, log
	if err := b.cmd.Start(); err != nil {
		return err
	}
	b.done = make(chan error, 1)
	go func(c *exec.Cmd, done chan<- error) { done <- c.Wait(); log.Close() }(b.cmd, b.done)
	return nil
}

// as returns leavend as a user runs it, and as systemd would where there is a
// runtime folder.
func (b *board) as(user int, args ...string) *exec.Cmd {
	cmd := exec.Command(leavend, args...)
	cmd.Dir = "/"
	cmd.Env = []string{"PATH=/", "HOME=/"}
	if b.run != "" && user == daemonUser {
		cmd.Env = append(cmd.Env, "RUNTIME_DIRECTORY="+b.run)
	}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(user), Gid: uint32(user)}}
	return cmd
}

func glob(pattern string) []string { f, _ := filepath.Glob(pattern); return f }

// allow accepts the mat's cautions, as soon as the daemon answers.
func (b *board) allow() error {
	var said string
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		var code int
		if _, said, code = b.command(daemonUser, "mat", "allow", "--yes", "--config", conf); code == 0 {
			return nil
		}
		select {
		case err := <-b.done:
			b.done <- err
			return fmt.Errorf("the daemon ended: %v\n%s", err, tail())
		default:
		}
	}
	return fmt.Errorf("mat allow: %s\n%s", said, tail())
}

// heat starts the daemon, lets the mat heat, and waits until it does.
func (b *board) heat() (after time.Duration, err error) {
	if err := b.start(true); err != nil {
		return 0, err
	}
	if err := b.allow(); err != nil {
		return 0, err
	}
	return b.until(true, heatWithin)
}

// heatWithin is how long a mat may take to heat: two minutes after it was
// switched on last, as often as switches_per_hour lets it, and what an emulated
// board is slower.
const heatWithin = 4 * time.Minute

// until waits for the mat to be on or off, and returns how long that took.
func (b *board) until(on bool, most time.Duration) (time.Duration, error) {
	began := time.Now()
	level := ""
	for time.Since(began) < most {
		var err error
		if level, err = b.level(); err != nil {
			return 0, err
		}
		if (level == "out high") == on {
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
	return 0, fmt.Errorf("the line is %s after %s\n%s", level, most, tail())
}

// stays watches the line for a while, and says what it was: one level, or what
// it turned to.
func (b *board) stays(span time.Duration) (string, error) {
	first, err := b.level()
	for end := time.Now().Add(span); err == nil && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		var now string
		if now, err = b.level(); err == nil && now != first {
			return first + ", then " + now, nil
		}
	}
	return first, err
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
	_ = os.Remove(b.data + "/ballast")
}

// command runs a command of leavend to its end.
func (b *board) command(user int, args ...string) (took time.Duration, said string, code int) {
	began := time.Now()
	cmd := b.as(user, args...)
	out, err := cmd.CombinedOutput()
	took, said = time.Since(began), strings.TrimSpace(string(out))
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		code = exit.ExitCode()
	case err != nil:
		code, said = -1, err.Error()
	}
	return took, said, code
}

// afterExit runs what systemd does after the daemon has ended.
func (b *board) afterExit() (took time.Duration, said string, code int) {
	return b.command(daemonUser, "mat", "off", "--after-exit")
}
