package dbfile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
)

// The files beside a file, by what their names end in.
const (
	headEnd  = ".head" // the copy of its first page
	freshEnd = ".new"  // what is about to take its place
	partEnd  = ".part" // what is not whole yet
)

// unused returns name, or name with a number, so that no file has it.
func unused(name string) string {
	for n, try := 2, name; ; n++ {
		if _, err := os.Lstat(try); err != nil {
			return try
		}
		try = fmt.Sprintf("%s-%d", name, n)
	}
}

func removeAll(paths ...string) error {
	for _, p := range paths {
		if err := os.Remove(p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// removeDB removes a database with its log.
func removeDB(path string) error { return removeAll(path, path+"-wal", path+"-shm") }

// syncFile flushes a file to the disk.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncDir flushes a directory, so that a new name in it lasts.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// copyFile copies a file, if it is there.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		return removeAll(to)
	}
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, in); err != nil {
		return errors.Join(fmt.Errorf("copy %s: %w", from, err), out.Close())
	}
	return errors.Join(out.Sync(), out.Close())
}

// same reports whether two names are of one file.
func same(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

// setAside gives a file another name, with its log. It returns "" when there is
// no file.
func setAside(path, why string) (string, error) {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return "", removeAll(path+"-wal", path+"-shm")
	}
	aside := unused(path + "." + why + "-" + time.Now().UTC().Format("20060102T150405Z"))
	if err := os.Rename(path+"-wal", aside+"-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	if err := removeAll(path + "-shm"); err != nil {
		return "", err
	}
	return aside, os.Rename(path, aside)
}
