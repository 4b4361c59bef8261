package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// person is who runs a command, as far as his folders go.
type person struct {
	uid    int
	getenv func(string) string
}

// own returns a folder of the person's own by the XDG Base Directory Specification:
// the one that a variable names, which must be absolute, or else the one below his home;
// "" where he has none.
func (p person) own(variable, belowHome string) string {
	if dir := p.getenv(variable); filepath.IsAbs(dir) {
		return filepath.Join(dir, "leavend")
	}
	if home := p.getenv("HOME"); filepath.IsAbs(home) {
		return filepath.Join(home, belowHome, "leavend")
	}
	return ""
}

// stateDir is where the history of an ordinary user lies.
func (p person) stateDir() string { return p.own("XDG_STATE_HOME", ".local/state") }

// ownConfig is an ordinary user's configuration; "" for root and for who has no home.
func (p person) ownConfig() string {
	dir := p.own("XDG_CONFIG_HOME", ".config")
	if p.uid == 0 || dir == "" {
		return ""
	}
	return filepath.Join(dir, filepath.Base(config.DefaultFile))
}

// configFile is the configuration of who names none: the board's where there is one,
// or else his own.
func (p person) configFile(boards string) string {
	if file := p.getenv("LEAVEND_CONFIG"); file != "" {
		return file
	}
	if _, err := os.Stat(boards); errors.Is(err, fs.ErrNotExist) && p.ownConfig() != "" {
		return p.ownConfig()
	}
	return boards
}

// makeConfig writes an ordinary user's first configuration, where it is that which is
// to be read and where it is not there yet.
func (p person) makeConfig(file string, said io.Writer) error {
	if file != p.ownConfig() || p.stateDir() == "" {
		return nil
	}
	if _, err := os.Stat(file); !errors.Is(err, fs.ErrNotExist) {
		return nil // reading it says what is wrong
	}
	first := fmt.Sprintf("# The configuration of leavend. 'leavend config' explains every key.\ndata_dir = %q\n", p.stateDir())
	err := os.MkdirAll(filepath.Dir(file), 0o700) // the rights are those that the specification wants
	if err == nil {
		err = os.WriteFile(file, []byte(first), 0o600)
	}
	if err != nil {
		return text.Fail("cli.own.unmade", text.Cause("err", err))
	}
	made := text.Say("cli.own.made", text.Name("file", file), text.Name("dir", p.stateDir()))
	_, err = fmt.Fprintln(said, made.In(terminal(file)))
	return err
}
