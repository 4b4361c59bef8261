package check

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Board is a board to look at. The zero value is not usable; see ThisBoard.
type Board struct {
	Root   string                                 // where /sys, /dev, /proc, /boot, /etc and /run are found; "/" for this board
	UID    int                                    // of who runs the check
	User   string                                 // their name, for the commands that are proposed
	Groups []string                               // the groups they are in
	Open   func(path string, flag int) error      // tries to open a device, and lets go of it
	Free   func(path string) (uint64, error)      // bytes free in a folder's file system
	Synced func() (bool, error)                   // whether the kernel's clock is set by the network
	Listen func(address string) error             // tries to listen on an address, and lets go of it
	Dial   func(address string) (net.Conn, error) // connects to another machine
	Now    time.Time
}

// dialTimeout bounds each try to reach another machine.
const dialTimeout = 5 * time.Second

// ThisBoard returns the board that the program runs on.
func ThisBoard() Board {
	b := Board{Root: "/", UID: os.Geteuid(), User: "leavend", Open: tryOpen, Free: free, Synced: synced, Listen: tryListen, Now: time.Now()}
	b.Dial = func(address string) (net.Conn, error) { return net.DialTimeout("tcp", address, dialTimeout) }
	if u, err := user.Current(); err == nil {
		b.User = u.Username
	}
	ids, err := os.Getgroups()
	if err != nil {
		return b
	}
	for _, id := range append(ids, os.Getegid()) {
		if g, err := user.LookupGroupId(fmt.Sprint(id)); err == nil {
			b.Groups = append(b.Groups, g.Name)
		}
	}
	return b
}

func tryOpen(path string, flag int) error {
	f, err := os.OpenFile(path, flag, 0)
	if err != nil {
		return err
	}
	return f.Close()
}

func tryListen(address string) error {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return err
	}
	return l.Close()
}

// path returns where a path of the board is found.
func (b Board) path(p string) string { return filepath.Join(b.Root, p) }

// read returns a small file of the board without its last line end, or ""
// where there is none.
func (b Board) read(p string) string {
	data, err := os.ReadFile(b.path(p))
	if err != nil {
		return ""
	}
	return strings.TrimRight(string(data), "\n\x00")
}

// has reports whether a path of the board exists.
func (b Board) has(p string) bool {
	_, err := os.Stat(b.path(p))
	return err == nil
}

// glob returns the paths of the board that match, as the board has them.
func (b Board) glob(pattern string) []string {
	found, err := filepath.Glob(b.path(pattern))
	if err != nil {
		return nil // the patterns are constants of this package
	}
	for i, f := range found {
		found[i] = "/" + strings.TrimPrefix(strings.TrimPrefix(f, filepath.Clean(b.Root)), "/")
	}
	return found
}

// Model returns what the board calls itself, or "" if it does not say.
func (b Board) Model() string { return b.read("/proc/device-tree/model") }

// Kernel returns the version of the board's kernel.
func (b Board) Kernel() string { return strings.TrimSpace(b.read("/proc/sys/kernel/osrelease")) }

// raspberry reports whether the board is a Raspberry Pi, whose settings have
// places of their own.
func (b Board) raspberry() bool { return strings.Contains(b.Model(), "Raspberry Pi") }

// bootConfig returns the text of the Raspberry Pi's boot configuration and
// the path it is at.
func (b Board) bootConfig() (lines, path string) {
	for _, p := range []string{"/boot/firmware/config.txt", "/boot/config.txt"} {
		if b.has(p) {
			return b.read(p), p
		}
	}
	return "", "/boot/firmware/config.txt"
}

// setting reports whether the boot configuration has a line, comments and
// spaces aside.
func setting(file string, lines ...string) bool {
	for _, have := range strings.Split(file, "\n") {
		have, _, _ = strings.Cut(have, "#")
		have = strings.ReplaceAll(strings.TrimSpace(have), " ", "")
		for _, want := range lines {
			if have == want {
				return true
			}
		}
	}
	return false
}

// device checks that a device file is there and may be opened; group is who
// usually may.
func (b Board) device(topic, path, group string, flag int) (Result, bool) {
	err := b.Open(b.path(path), flag)
	switch {
	case err == nil:
		return pass(topic, "check.device.opens", text.Name("path", path)), true
	case errors.Is(err, fs.ErrNotExist):
		return fail(topic, "check.device.missing", text.Name("path", path)), false
	case errors.Is(err, fs.ErrPermission):
		return fail(topic, "check.device.rights", text.Name("user", b.User), text.Name("path", path), text.Name("group", group)), false
	}
	return fail(topic, "check.device.fails", text.Name("path", path), because(err)), false
}
