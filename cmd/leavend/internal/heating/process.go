package heating

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// ProcessStart is when a process started, in the kernel's ticks since the board
// did. A number of a process is used again; the two together are not.
func ProcessStart(pid int) (uint64, error) {
	fields, err := processStat(pid)
	if err != nil {
		return 0, err
	}
	return strconv.ParseUint(fields[19], 10, 64)
}

// processStat are the fields of /proc/pid/stat from the third on, its state
// (proc(5)); the 22nd is when it started.
func processStat(pid int) ([]string, error) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return nil, err
	}
	// The name in parentheses may hold anything, so count from its end.
	fields := strings.Fields(string(b[bytes.LastIndexByte(b, ')')+1:]))
	if len(fields) < 20 {
		return nil, fmt.Errorf("/proc/%d/stat: too short", pid)
	}
	return fields, nil
}

// Process is one run of a daemon.
type Process struct {
	PID     int
	Started uint64 // 0 where a note of version 1 does not say
}

// Alive reports whether it is still there, be it stopped or hung.
func (p Process) Alive() bool {
	if p.PID <= 1 || p.PID == os.Getpid() { // who asks is no daemon
		return false
	}
	started, err := ProcessStart(p.PID)
	switch {
	case err != nil:
		return errors.Is(unix.Kill(p.PID, 0), unix.EPERM) // /proc may hide other users' processes
	case p.Started != 0:
		return started == p.Started && !zombie(p.PID)
	}
	name, err := os.ReadFile(fmt.Sprintf("/proc/%d/comm", p.PID))
	return err == nil && strings.TrimSpace(string(name)) == "leavend" && !zombie(p.PID)
}

// zombie reports whether a process has ended and only waits to be counted.
func zombie(pid int) bool {
	fields, err := processStat(pid)
	return err == nil && fields[0] == "Z"
}

// endWithin is how long a killed process may take to be gone.
const endWithin = 10 * time.Second

// End kills the process and waits until it is gone, with everything that it
// held. The kernel's handle on the process keeps the signal from another one
// that has got its number since.
func (p Process) End() error {
	fd, err := unix.PidfdOpen(p.PID, 0)
	switch {
	case errors.Is(err, unix.ESRCH):
		return nil
	case err != nil:
		return fmt.Errorf("process %d: %w", p.PID, err)
	}
	defer unix.Close(fd)
	if !p.Alive() {
		return nil
	}
	if err := unix.PidfdSendSignal(fd, unix.SIGKILL, nil, 0); err != nil && !errors.Is(err, unix.ESRCH) {
		return fmt.Errorf("process %d cannot be ended: %w", p.PID, err)
	}
	fds := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
	for end := time.Now().Add(endWithin); time.Now().Before(end); {
		if n, err := unix.Poll(fds, 100); err != nil && !errors.Is(err, unix.EINTR) || n > 0 {
			return nil
		}
	}
	return fmt.Errorf("process %d is still there %s after SIGKILL", p.PID, endWithin)
}
