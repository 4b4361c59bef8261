package access

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// WriteWhole replaces a file so that a power cut leaves the old or the new
// one.
func WriteWhole(path string, b []byte, mode os.FileMode) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return fmt.Errorf("web: write %s: %w", path, err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("web: write %s: %w", path, err)
	}
	return nil
}
