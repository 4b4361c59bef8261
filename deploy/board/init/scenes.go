//go:build linux

package main

import (
	"fmt"
	"os"
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
		{"SIGTERM", playTerm},
		{"SIGKILL", playKill},
		{"SIGSTOP", playStop},
		{"SIGABRT", playAbort},
		{"probe silent", playSilent},
		{"85.000 °C", playPowerOn},
		{"cutoff", playCutoff},
		{"full disk", playFull},
		{"clock steps", playClock},
	}
}

// brief is what CI plays, for want of time: a start that ends with SIGTERM, a
// SIGKILL, and a probe that falls silent.
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
	}
}

func playStart(b *board) ([]row, error) {
	const name = "start at 20 °C, setpoint 25 °C"
	before := b.level()
	took, said := matOff()
	rows := []row{
		{"before leavend", "not driven", before, before == "in"},
		{"`leavend mat off` on a board that never had a mat", "says so, exit 0", fmt.Sprintf("%q in %s", said, ms(took)), said == "mat off: no mat was opened here; nothing to switch"},
	}
	began := time.Now()
	if err := b.start(true); err != nil {
		return rows, err
	}
	first := ""
	for first == "" || first == "in" {
		if time.Since(began) > time.Minute {
			return rows, fmt.Errorf("the line was not taken within a minute\n%s", tail())
		}
		first = b.level()
		time.Sleep(2 * time.Millisecond)
	}
	rows = append(rows, row{name, "line is taken low", fmt.Sprintf("%s, %s after the program's start", first, ms(time.Since(began))), first == "out low"})
	if _, err := b.until(true, 3*time.Minute); err != nil {
		return rows, err
	}
	on := time.Since(began)
	return append(rows, row{name, "heats after the minimum off-time of 30 s, not before", "high after " + ms(on), on >= 30*time.Second}), nil
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
	return []row{{"SIGTERM while heating", "off at once, exit 0", fmt.Sprintf("off after %s, %s, line then %s", ms(took), how, b.level()), err == nil && how == "exit 0"}}, err
}

func playKill(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGKILL); err != nil {
		return nil, err
	}
	took, err := b.until(false, 20*time.Second)
	if err != nil {
		return nil, err
	}
	rows := []row{{"SIGKILL while heating", "this kernel lets go of the line", fmt.Sprintf("off after %s, line %s", ms(took), b.level()), true}}
	for i := range 2 {
		took, said := matOff()
		rows = append(rows, row{fmt.Sprintf("`leavend mat off` after it, run %d", i+1), "says that the line is low, exit 0",
			fmt.Sprintf("%q in %s of this emulated board, line then %s", said, ms(took), b.level()), said == "mat off: line 17 is low" && !b.heats()})
	}
	return rows, nil
}

func playStop(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGSTOP); err != nil {
		return nil, err
	}
	time.Sleep(8 * time.Second)
	still := b.heats()
	rows := []row{{"SIGSTOP while heating, 8 s later", "a stopped program can let go of nothing: the line stays as it was", b.level(), still}}
	// What systemd's watchdog does after WatchdogSec, for it gets no more word.
	_ = b.signal(unix.SIGABRT)
	_ = b.signal(unix.SIGKILL)
	took, err := b.until(false, 20*time.Second)
	return append(rows, row{"the watchdog's SIGKILL", "the kernel lets go of the line", fmt.Sprintf("off after %s, line %s", ms(took), b.level()), err == nil}), err
}

func playAbort(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	if err := b.signal(unix.SIGABRT); err != nil {
		return nil, err
	}
	took, err := b.until(false, 30*time.Second)
	return []row{{"SIGABRT while heating (a crash)", "off", fmt.Sprintf("off after %s, line %s, %s", ms(took), b.level(), b.ended(10*time.Second)), err == nil}}, err
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
		return nil, err
	}
	if err := ramp(b, 20, 36); err != nil {
		return nil, err
	}
	time.Sleep(4 * time.Second)
	if err := b.signal(unix.SIGTERM); err != nil {
		return nil, err
	}
	b.ended(20 * time.Second)
	if err := b.start(false); err != nil {
		return nil, err
	}
	time.Sleep(50 * time.Second)
	return append(rows, row{"true warmth over the cutoff, a restart, 20 °C again, 50 s later", "stays off until it is acknowledged", b.level(), b.level() == "out low"}), nil
}

func playFull(b *board) ([]row, error) {
	if _, err := b.heat(); err != nil {
		return nil, err
	}
	f, err := os.Create(dataDir + "/ballast")
	if err != nil {
		return nil, err
	}
	block := make([]byte, 1<<16)
	for {
		if _, err := f.Write(block); err != nil {
			break
		}
	}
	_ = f.Close()
	time.Sleep(20 * time.Second)
	rows := []row{{"disk full while heating, 20 s later", "heats on", b.level(), b.heats()}}
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
	return append(rows, row{"SIGTERM with a full disk", "ends, line not high", fmt.Sprintf("%s, line %s", how, b.level()), how != "still running" && !b.heats()}), nil
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
		level := b.level()
		for range 100 {
			time.Sleep(50 * time.Millisecond)
			if l := b.level(); l != level {
				level = l
				break
			}
		}
		rows = append(rows, row{fmt.Sprintf("the wall clock steps by %+d years while heating", years), "nothing changes", level + " for 5 s", level == "out high"})
	}
	if err := b.silence(); err != nil {
		return rows, err
	}
	took, err := b.until(false, 30*time.Second)
	return append(rows, row{"and the probe falls silent after it", "off within 10 s all the same", "off after " + ms(took), err == nil && took <= 12*time.Second}), err
}
