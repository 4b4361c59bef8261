// Command bus is the first process of a virtual machine in which Linux itself
// talks to the emulated chips. It speaks USB/IP to the kernel as a small
// adapter from USB to I²C whose bus is bustest's, so that /dev/i2c-N is real.
// Then it reads every chip with leavend's drivers, has the kernel's own drivers
// read the same chips, lets things go wrong on the wires, prints a table, and
// powers the machine off. With "pack" as its first word it gathers the kernel
// modules for that; see bus.sh.
//
//go:build linux

package main

import (
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

func main() {
	if len(os.Args) == 4 && os.Args[1] == "pack" {
		if err := pack(os.Args[2], os.Args[3]); err != nil {
			fmt.Fprintln(os.Stderr, "pack:", err)
			os.Exit(1)
		}
		return
	}
	if os.Getpid() != 1 {
		fmt.Fprintln(os.Stderr, "bus: this is the first process of a virtual machine; use deploy/board/bus.sh")
		os.Exit(2)
	}
	code := 0
	if err := play(); err != nil {
		fmt.Println("BUS: failed:", err)
		code = 1
	}
	fmt.Println("BUS: end", code)
	unix.Sync()
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF)
	time.Sleep(time.Minute) // A machine without a power switch is ended by bus.sh.
}

// play brings the bus up and makes all rows of the table.
func play() error {
	for _, m := range []struct{ kind, at string }{{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}} {
		if err := os.MkdirAll(m.at, 0o755); err != nil {
			return err
		}
		if err := unix.Mount(m.kind, m.at, m.kind, 0, ""); err != nil && m.kind != "devtmpfs" {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	if err := load("/modules"); err != nil {
		return err
	}
	b := newBench()
	if err := attach(b.board); err != nil {
		return err
	}
	number, err := adapter("tiny")
	if err != nil {
		return err
	}
	if err := b.open(number); err != nil {
		return err
	}
	b.ours()
	b.faults()
	b.kernels(number)
	b.oneWire()
	b.behindSwitch(number)
	if b.failed > 0 {
		return fmt.Errorf("%d rows are not as expected", b.failed)
	}
	return nil
}
