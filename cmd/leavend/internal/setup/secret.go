package setup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// secret is the address of the phone's service, which goes into a file of its own;
// it is empty where there are no recipients.
type secret struct{ file, text string }

// newSecret chooses a file that is not there: one of that name may be another
// recipient's.
func (w *Setup) newSecret(text string) secret {
	file := filepath.Join(filepath.Dir(w.file), "phone-url")
	for n, name := 2, file; ; n++ {
		if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
			return secret{name, text}
		}
		name = fmt.Sprintf("%s-%d", file, n)
	}
}

func (s secret) save() error {
	if s.text == "" {
		return nil
	}
	f, err := os.OpenFile(s.file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(s.text + "\n")
	return errors.Join(err, f.Close())
}

// remove takes the file of a set-up away that was not kept.
func (s secret) remove() {
	if s.text != "" {
		_ = os.Remove(s.file) // it stays unused, if it stays
	}
}
