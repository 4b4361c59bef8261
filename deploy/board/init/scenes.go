//go:build linux

package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// row is one line of the table.
type row struct {
	scene, want, saw string
	ok               bool
}

// scene is one thing that happens to a board.
type scene struct {
	name string
	play func(b *board) ([]row, error)
}

// ms rounds a time for the table.
func ms(d time.Duration) string {
	if d < 10*time.Second {
		return d.Round(10 * time.Millisecond).String()
	}
	return d.Round(100 * time.Millisecond).String()
}

// scenes returns what is played, in order.
func scenes() []scene {
	return []scene{
		{"start", playStart},
		{"cautions", playCautions},
		{"mat off", func(b *board) ([]row, error) { return playMatOff(b, usualData, usualRun, "usual") }},
		{"mat off other folder", func(b *board) ([]row, error) { return playMatOff(b, otherData, "", "other") }},
		{"SIGTERM", playTerm},
		{"SIGKILL", playKill},
		{"SIGSTOP", playStop},
		{"SIGABRT", playAbort},
		{"probe silent", playSilent},
		{"85.000 °C", playPowerOn},
		{"cutoff", playCutoff},
		{"full disk", playFull},
		{"latch on a full disk", func(b *board) ([]row, error) { return playLatchFull(b, usualData, usualRun) }},
		{"latch beside the data", func(b *board) ([]row, error) { return playLatchFull(b, otherData, "") }},
		{"clock steps", playClock},
	}
}

// brief is what CI plays, for want of time: a start that ends with SIGTERM, a
// SIGKILL, a probe that falls silent, and mat off against a daemon that lives
// and one that hangs.
func brief() []scene {
	return []scene{
		{"start", func(b *board) ([]row, error) {
			rows, err := playStart(b)
			if err != nil {
				return rows, err
			}
			more, err := endTerm(b)
			return append(rows, more...), err
		}},
		{"SIGKILL", playKill},
		{"probe silent", playSilent},
		{"mat off", playMatOffBriefly},
	}
}

func playStart(b *board) ([]row, error) {
	const name = "start at 20 °C, setpoint 25 °C"
	before, err := b.level()
	if err != nil {
		return nil, err
	}
	rows := []row{{"before leavend", "not driven", before, before == "in"}}
	took, said, code := b.command(0, "mat", "off")
	rows = append(rows, row{"`leavend mat off` where leavend never ran", "cannot know, exit 1", fmt.Sprintf("exit %d, %q in %s", code, said, ms(took)), code == 1 && strings.Contains(said, "pull the mat's plug")})
	took, said, code = b.afterExit()
	rows = append(rows, row{"`leavend mat off --after-exit`, as systemd runs it, there", "exit 0", fmt.Sprintf("exit %d, %q in %s", code, said, ms(took)), code == 0})
	began := time.Now()
	if err := b.start(true); err != nil {
		return rows, err
	}
	first := before
	for first == "in" {
		if time.Since(began) > time.Minute {
			return rows, fmt.Errorf("the line was not taken within a minute\n%s", tail())
		}
		if first, err = b.level(); err != nil {
			return rows, err
		}
		time.Sleep(2 * time.Millisecond)
	}
	rows = append(rows, row{name, "line is taken low", fmt.Sprintf("%s, %s after the program's start", first, ms(time.Since(began))), first == "out low"})
	if err := b.allow(); err != nil {
		return rows, err
	}
	if _, err := b.until(true, heatWithin); err != nil {
		return rows, err
	}
	on := time.Since(began)
	return append(rows, row{name, "heats after the minimum off-time of 30 s, not before", "high after " + ms(on), on >= 30*time.Second}), nil
}

// playCautions starts with a fresh data folder and accepts nothing.
func playCautions(b *board) ([]row, error) {
	if err := b.start(true); err != nil {
		return nil, err
	}
	if _, err := b.until(false, time.Minute); err != nil {
		return nil, err
	}
	time.Sleep(5 * time.Second) // the program takes the line
	level, err := b.stays(70 * time.Second)
	if err != nil {
		return nil, err
	}
	rows := []row{{"a fresh data folder at 20 °C, the cautions are not accepted, for 75 s", "off", level, level == "out low"}}
	if err := b.allow(); err != nil {
		return rows, err
	}
	took, err := b.until(true, 2*time.Minute)
	return append(rows, row{"`leavend mat allow --yes`", "prints the cautions, and it heats", "high after " + ms(took), err == nil}), err
}

func playTerm(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	return endTerm(b)
}

// endTerm ends a daemon that heats.
func endTerm(b *board) ([]row, error) {
	if err := b.signal(unix.SIGTERM); err != nil {
		return nil, err
	}
	took, err := b.until(false, 20*time.Second)
	how := b.ended(20 * time.Second)
	return b.then(row{"SIGTERM while heating", "off at once, exit 0", fmt.Sprintf("off after %s, %s, line then ", ms(took), how), err == nil && how == "exit 0"}, "in", err)
}

// then completes a row with the line's level now, which has to be as wanted.
func (b *board) then(r row, want string, err error) ([]row, error) {
	if err != nil {
		return nil, err
	}
	level, err := b.level()
	r.saw += level
	r.ok = r.ok && level == want
	return []row{r}, err
}

func playKill(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGKILL); err != nil {
		return nil, err
	}
	took, err := b.until(false, 20*time.Second)
	rows, err := b.then(row{"SIGKILL while heating", "this kernel lets go of the line", fmt.Sprintf("off after %s, line ", ms(took)), true}, "in", err)
	if err != nil {
		return rows, err
	}
	b.ended(20 * time.Second)
	for i := range 2 {
		took, said, code := b.afterExit()
		more, err := b.then(row{fmt.Sprintf("`leavend mat off --after-exit` after it, run %d", i+1), "says that the line is low, exit 0",
			fmt.Sprintf("exit %d, %q in %s of this emulated board, line then ", code, said, ms(took)), code == 0 && strings.Contains(said, "line 17 is low")}, "in", nil)
		if rows = append(rows, more...); err != nil {
			return rows, err
		}
	}
	if err := b.start(false); err != nil {
		return rows, err
	}
	took, err = b.until(true, heatWithin)
	return append(rows, row{"the next start", "heats again by itself", "high after " + ms(took), err == nil}), err
}

func playStop(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGSTOP); err != nil {
		return nil, err
	}
	time.Sleep(8 * time.Second)
	rows, err := b.then(row{"SIGSTOP while heating, 8 s later", "a stopped program can let go of nothing: the line stays as it was", "", true}, "out high", nil)
	if err != nil {
		return rows, err
	}
	// What systemd's watchdog does after WatchdogSec, for it gets no more word.
	_ = b.signal(unix.SIGABRT)
	_ = b.signal(unix.SIGKILL)
	took, err := b.until(false, 20*time.Second)
	more, err := b.then(row{"the watchdog's SIGKILL", "the kernel lets go of the line", fmt.Sprintf("off after %s, line ", ms(took)), true}, "in", err)
	return append(rows, more...), err
}

func playAbort(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGABRT); err != nil {
		return nil, err
	}
	took, err := b.until(false, 30*time.Second)
	how := b.ended(10 * time.Second)
	return b.then(row{"SIGABRT while heating (a crash)", "off", fmt.Sprintf("off after %s, %s, line ", ms(took), how), how != "still running"}, "in", err)
}

func playSilent(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.silence(); err != nil {
		return nil, err
	}
	took, err := b.until(false, 30*time.Second)
	if err != nil {
		return nil, err
	}
	return []row{{"the probe falls silent while heating", "off within stale_after = 10 s", "off after " + ms(took), took <= 12*time.Second}}, nil
}

func playPowerOn(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.say(85); err != nil {
		return nil, err
	}
	took, err := b.until(false, 30*time.Second)
	if err != nil {
		return nil, err
	}
	return []row{{"the probe says 85.000 °C, its value at power-on", "not believed; off within 10 s", "off after " + ms(took), took <= 12*time.Second}}, nil
}

func playClock(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	var rows []row
	for _, years := range []int{1, -2} {
		tv := unix.NsecToTimeval(time.Now().AddDate(years, 0, 0).UnixNano())
		if err := unix.Settimeofday(&tv); err != nil {
			return rows, err
		}
		level, err := b.stays(5 * time.Second)
		if err != nil {
			return rows, err
		}
		rows = append(rows, row{fmt.Sprintf("the wall clock steps by %+d years while heating", years), "nothing changes", level + " for 5 s", level == "out high"})
	}
	if err := b.silence(); err != nil {
		return rows, err
	}
	took, err := b.until(false, 30*time.Second)
	return append(rows, row{"and the probe falls silent after it", "off within 10 s all the same", "off after " + ms(took), err == nil && took <= 12*time.Second}), err
}

// fill leaves no room on the disk of the data.
func fill(b *board) error {
	f, err := os.Create(b.data + "/ballast")
	if err != nil {
		return err
	}
	for _, size := range []int{1 << 16, 512} {
		block := make([]byte, size)
		for {
			if _, err := f.Write(block); err != nil {
				break
			}
		}
	}
	return f.Close()
}
