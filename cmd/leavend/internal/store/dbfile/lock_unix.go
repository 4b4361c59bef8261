//go:build unix

package dbfile

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// ownAs gives a file the owner and the mode of another, or the owner of its
// folder where there is no other yet. Only root can, and only root has
// to.
func ownAs(model, file string) error {
	info, err := os.Stat(model)
	mode := os.FileMode(0o600)
	if err == nil {
		mode = info.Mode().Perm()
	} else if info, err = os.Stat(filepath.Dir(model)); err != nil {
		return err
	}
	if s, ok := info.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 {
		if err := os.Chown(file, int(s.Uid), int(s.Gid)); err != nil {
			return err
		}
	}
	return os.Chmod(file, mode)
}

// Lock takes the file beside the database that says who owns it. A lock of
// the kernel's goes away with its process, however that ends.
func Lock(path string) (*os.File, error) {
	f, err := os.OpenFile(path+".lock", os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder := make([]byte, 32)
		n, _ := f.ReadAt(holder, 0)
		f.Close()
		return nil, &InUseError{Path: path, Holder: string(holder[:n])}
	}
	// The process id is for people; failing to write it (a full disk) is no
	// reason not to run.
	if f.Truncate(0) == nil {
		fmt.Fprintf(f, "%d", os.Getpid())
	}
	return f, nil
}
