//go:build unix

package dbfile

import (
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// FreeIn returns the room on the disk that a folder lies on; false where that
// cannot be told.
func FreeIn(dir string) (int64, bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}

// sameDisk reports whether two folders lie on one disk.
func sameDisk(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	if errX != nil || errY != nil {
		return false
	}
	p, okP := x.Sys().(*syscall.Stat_t)
	q, okQ := y.Sys().(*syscall.Stat_t)
	return okP && okQ && p.Dev == q.Dev
}
