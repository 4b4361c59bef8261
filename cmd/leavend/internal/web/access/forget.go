package access

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"
)

// File holds the page's password and sessions, in the data folder.
const File = "page-access.json"

// Check returns why the file with the page's password cannot be read, if it
// cannot; that there is none yet is right.
func Check(dataDir string) error {
	return Open(dataDir, time.Now, slog.New(slog.DiscardHandler)).Usable()
}

// Forget sets the page's password and all its sessions aside, under a name with
// the moment in it, and returns that name; "" when there is none. A server that
// runs notices at its next request. It then wants a password to be chosen with a
// set-up code, so no one gains by this who cannot read its log.
func Forget(dataDir string, now time.Time) (string, error) {
	file := filepath.Join(dataDir, File)
	aside := file + ".forgotten-" + now.UTC().Format("20060102-150405")
	if _, err := os.Lstat(aside); err == nil {
		return "", fmt.Errorf("web: forget the password: %s is there already; try again in a second", aside)
	}
	err := os.Rename(file, aside)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("web: forget the password: %w", err)
	}
	return aside, nil
}
