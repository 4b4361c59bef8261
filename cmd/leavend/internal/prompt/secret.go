package prompt

import (
	"context"
	"os"

	"golang.org/x/term"
)

// Secret asks for a password, and does not show what is typed where in is a
// terminal. From a pipe it takes a line.
func (t *Terminal) Secret(ctx context.Context, key string) (string, error) {
	if t.file == nil || !term.IsTerminal(int(t.file.Fd())) {
		return t.Ask(ctx, key)
	}
	t.question(key, nil)
	b, err := term.ReadPassword(int(t.file.Fd()))
	t.Print("")
	return string(b), err
}

// Interactive reports whether a person sits there.
func (t *Terminal) Interactive() bool {
	return t.file != nil && term.IsTerminal(int(t.file.Fd()))
}

// asFile is the file behind a reader; nil where there is none.
func asFile(in any) *os.File {
	f, _ := in.(*os.File)
	return f
}
