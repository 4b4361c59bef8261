package heating

import (
	"errors"
	"os"
	"path/filepath"

	"leavend/cmd/leavend/internal/atomicfile"

	"golang.org/x/sys/unix"
)

// roomy is the least size of a file that WriteFile makes. What is written
// later finds its room there when the disk has none.
const roomy = 4096

// WriteFile writes a small JSON file, readable by its owner alone, in one
// rename, so that no reader sees half of it. On a full disk it writes over the
// file that is there: rather at risk of half a file after a power cut than
// surely of an old one.
func WriteFile(path string, text []byte) error {
	for len(text) < roomy {
		text = append(text, '\n')
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	err := atomicfile.Write(path, text, 0o600)
	if !errors.Is(err, unix.ENOSPC) && !errors.Is(err, unix.EDQUOT) {
		return err
	}
	f, over := os.OpenFile(path, os.O_WRONLY, 0o600)
	if over != nil {
		return err
	}
	_, over = f.WriteAt(text, 0)
	if over = errors.Join(over, f.Truncate(int64(len(text))), f.Sync(), f.Close()); over != nil {
		return errors.Join(err, over)
	}
	return nil
}
