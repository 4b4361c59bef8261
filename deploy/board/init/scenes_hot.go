//go:build linux

package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// ramp moves the probe no faster than a vessel can be believed.
func ramp(b *board, from, to float64) error {
	step := 0.4
	if to < from {
		step = -step
	}
	for c := from; (to-c)*step > 0; c += step {
		if err := b.say(c); err != nil {
			return err
		}
		time.Sleep(time.Second)
	}
	return b.say(to)
}

func playCutoff(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	// A jump over the cutoff is not believed, but takes permission away.
	if err := b.say(36); err != nil {
		return nil, err
	}
	took, err := b.until(false, 30*time.Second)
	if err != nil {
		return nil, err
	}
	rows := []row{{"a jump over the cutoff of 35 °C while heating", "off with the next reading", "off after " + ms(took), took <= 5*time.Second}}
	if err := b.say(20); err != nil {
		return rows, err
	}
	if err := ramp(b, 20, 36); err != nil {
		return rows, err
	}
	time.Sleep(4 * time.Second)
	_, said, code := b.command(daemonUser, "mat", "acknowledge", "--config", conf)
	rows = append(rows, row{"true warmth over the cutoff, and `leavend mat acknowledge` while it is hot", "refused, exit 1", fmt.Sprintf("exit %d, %q", code, said), code == 1 && strings.Contains(said, "close to its cutoff")})
	if err := b.signal(unix.SIGTERM); err != nil {
		return rows, err
	}
	b.ended(20 * time.Second)
	more, err := stillLatched(b, "a restart, 20 °C again, 55 s later")
	return append(rows, more...), err
}

// stillLatched starts the daemon again at 20 °C, and acknowledges.
func stillLatched(b *board, what string) ([]row, error) {
	if err := b.start(false); err != nil {
		return nil, err
	}
	time.Sleep(5 * time.Second)
	level, err := b.stays(50 * time.Second)
	if err != nil {
		return nil, err
	}
	rows := []row{{what, "stays off until it is acknowledged", level, level == "out low"}}
	if err := os.RemoveAll(b.data + "/ballast"); err != nil { // room on the disk again
		return rows, err
	}
	_, said, code := b.command(daemonUser, "mat", "acknowledge", "--config", conf)
	if code != 0 {
		return append(rows, row{"`leavend mat acknowledge`", "exit 0", fmt.Sprintf("exit %d, %q", code, said), false}), nil
	}
	took, err := b.until(true, heatWithin)
	return append(rows, row{"`leavend mat acknowledge`", "exit 0, and it heats again", fmt.Sprintf("exit 0, %q, high after %s", said, ms(took)), err == nil}), err
}

func playFull(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := fill(b); err != nil {
		return nil, err
	}
	time.Sleep(20 * time.Second)
	rows, err := b.then(row{"disk full while heating, 20 s later", "heats on", "", true}, "out high", nil)
	if err != nil {
		return rows, err
	}
	if err := b.say(36); err != nil {
		return rows, err
	}
	took, err := b.until(false, 30*time.Second)
	if err != nil {
		return rows, err
	}
	rows = append(rows, row{"too hot with a full disk", "off with the next reading", "off after " + ms(took), took <= 5*time.Second})
	_ = b.signal(unix.SIGTERM)
	how := b.ended(20 * time.Second)
	more, err := b.then(row{"SIGTERM with a full disk", "ends, line not high", how + ", line ", how != "still running"}, "in", nil)
	return append(rows, more...), err
}

// playLatchFull latches a fault while the disk takes nothing, and kills the
// daemon at once.
func playLatchFull(b *board, data, run string) ([]row, error) {
	if err := b.place(data, run); err != nil {
		return nil, err
	}
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := fill(b); err != nil {
		return nil, err
	}
	if err := ramp(b, 20, 36); err != nil {
		return nil, err
	}
	if _, err := b.until(false, 30*time.Second); err != nil {
		return nil, err
	}
	time.Sleep(4 * time.Second)
	if err := b.signal(unix.SIGKILL); err != nil {
		return nil, err
	}
	b.ended(20 * time.Second)
	where := "with a runtime folder"
	if run == "" {
		where = "without a runtime folder"
	}
	return stillLatched(b, "disk full, true warmth over the cutoff, SIGKILL, a start at 20 °C with the disk full, "+where+", 55 s later")
}
