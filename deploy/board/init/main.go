// Command init is the first process of the virtual board: it mounts what
// leavend needs, plays scenes with the real daemon and a mat on GPIO line 17,
// watches the line through the kernel's own eyes, prints a table, and powers
// the board off. It runs nowhere else; see run.sh.
//
//go:build linux

package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

func main() {
	if os.Getpid() != 1 {
		fmt.Fprintln(os.Stderr, "init: this is the first process of a virtual board; use deploy/board/run.sh")
		os.Exit(2)
	}
	code := 0
	if err := play(); err != nil {
		fmt.Println("BOARD: failed:", err)
		code = 1
	}
	fmt.Println("BOARD: end", code)
	unix.Sync()
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF)
	time.Sleep(time.Minute) // Without a power switch QEMU is ended by run.sh.
}

// play sets the board up and plays every scene.
func play() error {
	if err := mountAll(); err != nil {
		return err
	}
	b := &board{}
	if err := b.setUp(); err != nil {
		return err
	}
	line, err := os.ReadFile("/proc/cmdline")
	if err != nil {
		return err
	}
	play, err := wanted(string(line))
	if err != nil {
		return err
	}
	failed := 0
	for _, s := range play {
		began := time.Now()
		rows, err := s.play(b)
		b.stop()
		err = errors.Join(err, b.place(usualData, usualRun))
		if err != nil {
			failed++
			rows = append(rows, row{s.name, "scene could not be played", err.Error(), false})
		}
		for _, r := range rows {
			if !r.ok {
				failed++
				fmt.Printf("BOARD: log of the daemon:\n%s\n", tail())
			}
			fmt.Printf("ROW: | %s | %s | %s | %s |\n", r.scene, r.want, r.saw, map[bool]string{true: "yes", false: "**no**"}[r.ok])
		}
		fmt.Printf("BOARD: scene %q took %s\n", s.name, time.Since(began).Round(time.Second))
	}
	if failed > 0 {
		return fmt.Errorf("%d rows are not as expected", failed)
	}
	return nil
}

// wanted returns the scenes that the kernel's command line asks for: all, the
// brief ones, or those named by scenes=first,second with blanks left out. A name
// that no scene has is an error: it would play nothing and call that a success.
func wanted(line string) ([]scene, error) {
	for _, word := range strings.Fields(line) {
		list, ok := strings.CutPrefix(word, "scenes=")
		switch {
		case list == "brief":
			return brief(), nil
		case ok:
			return named(strings.Split(list, ","))
		}
	}
	return scenes(), nil
}

func named(names []string) (out []scene, err error) {
	for _, name := range names {
		i := slices.IndexFunc(scenes(), func(s scene) bool { return strings.ReplaceAll(s.name, " ", "") == name })
		if i < 0 {
			return nil, fmt.Errorf("there is no scene %q", name)
		}
		out = append(out, scenes()[i])
	}
	return out, nil
}

// mountAll mounts what the kernel shows, and a small disk for the history.
func mountAll() error {
	for _, m := range []struct{ kind, at, data string }{
		{"proc", "/proc", ""}, {"sysfs", "/sys", ""}, {"devtmpfs", "/dev", ""},
		{"debugfs", "/sys/kernel/debug", ""}, {"tmpfs", "/run", ""}, {"tmpfs", "/tmp", ""},
		{"tmpfs", usualData, "size=24m"}, {"tmpfs", otherData, "size=24m"},
	} {
		if err := os.MkdirAll(m.at, 0o755); err != nil {
			return err
		}
		if err := unix.Mount(m.kind, m.at, m.kind, 0, m.data); err != nil && m.kind != "devtmpfs" {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	return nil
}
