package heating

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// holdName is the file that keeps the mat off at every start until a person
// allows it. `leavend mat off` leaves it where no daemon answers.
const holdName = "mat-off.json"

// hold says who wants the mat to stay off.
type hold struct {
	At time.Time `json:"at"`
	By int       `json:"uid"`
}

// HoldOff leaves the word in each folder: in the data folder it lasts over a
// restart of the board, in the runtime folder it does where the disk is full.
// The error is that of the first, the data folder.
func HoldOff(dataDir string, others ...string) error {
	text, err := json.Marshal(hold{At: time.Now(), By: os.Getuid()})
	if err != nil {
		return err
	}
	for _, dir := range others {
		if dir != dataDir {
			_ = leaveHold(dir, text) // a help only: the data folder decides
		}
	}
	if dataDir == "" {
		return errors.New("the daemon's data folder is not known")
	}
	return leaveHold(dataDir, text)
}

func leaveHold(dir string, text []byte) error {
	if _, err := os.Stat(dir); err != nil {
		return err
	}
	path := filepath.Join(dir, holdName)
	if err := WriteFile(path, text); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	// Whoever the daemon runs as has to see it.
	return os.Chmod(path, 0o644)
}

// Held reports whether the word stands in any of the folders. One that cannot
// be looked for counts as standing.
func Held(dirs ...string) bool {
	for _, dir := range dirs {
		if _, err := os.Stat(filepath.Join(dir, holdName)); !errors.Is(err, os.ErrNotExist) {
			return true
		}
	}
	return false
}

// LiftHold takes the word back.
func LiftHold(dirs ...string) error {
	var errs []error
	for _, dir := range dirs {
		if err := os.Remove(filepath.Join(dir, holdName)); !errors.Is(err, os.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
