package store

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// mountSmall mounts a file system in memory of a size in bytes. That takes
// the rights of root.
func mountSmall(dir string, size int) (unmount func(), err error) {
	if err := os.Mkdir(dir, 0o755); err != nil {
		return nil, err
	}
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", size)); err != nil {
		return nil, err
	}
	return func() { unix.Unmount(dir, unix.MNT_DETACH) }, nil
}
