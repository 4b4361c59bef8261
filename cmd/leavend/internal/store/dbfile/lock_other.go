//go:build !unix

package dbfile

import (
	"fmt"
	"os"
)

// Lock has no kernel lock to use here; SQLite's own still guards each write.
func Lock(path string) (*os.File, error) {
	f, err := os.OpenFile(path+".lock", os.O_CREATE|os.O_RDWR, 0o640)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	return f, nil
}

// ownAs does nothing where files have no owners.
func ownAs(string, string) error { return nil }
