package config

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// Secret is a password or an address with a password in it. Printing or
// logging one shows only where it is kept.
type Secret struct {
	value, file, env string

	as *account // who reads the file; nil is the process itself
}

// maxSecret bounds what is read from a secret's file.
const maxSecret = 64 << 10

// IsSet reports whether the configuration says where the secret is.
func (s Secret) IsSet() bool { return s != Secret{} }

// From reports whether the secret is kept in that file.
func (s Secret) From(file string) bool { return s.file == file }

// Reveal fetches the secret. A file is read again each time, so that a changed
// password needs no change of the configuration; one line end at its tail
// does not belong to it.
func (s Secret) Reveal() (string, error) {
	switch {
	case s.file != "":
		return readSecret(s.file, s.as)
	case s.env != "":
		v, ok := os.LookupEnv(s.env)
		if !ok || v == "" {
			return "", fmt.Errorf("secret: the environment has no variable %s", s.env)
		}
		return v, nil
	}
	return s.value, nil
}

func readSecret(name string, as *account) (string, error) {
	open := os.Open
	if as != nil {
		open = func(name string) (*os.File, error) { return openAs(name, *as) }
	}
	f, err := open(name)
	if err != nil {
		return "", fmt.Errorf("secret: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSecret))
	if err != nil {
		return "", fmt.Errorf("secret: read %s: %w", name, err)
	}
	secret := strings.TrimSuffix(strings.TrimSuffix(string(data), "\n"), "\r")
	if secret == "" {
		return "", fmt.Errorf("secret: %s is empty", name)
	}
	return secret, nil
}

// String says where the secret is kept, never what it is.
func (s Secret) String() string {
	switch {
	case s.file != "":
		return "in file " + s.file
	case s.env != "":
		return "in variable " + s.env
	case s.value != "":
		return "in the config file"
	}
	return "none"
}

// GoString keeps %#v from showing the secret.
func (s Secret) GoString() string { return "config.Secret(" + s.String() + ")" }

// LogValue keeps the secret out of logs.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText keeps the secret out of JSON and everything else that is written.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// secret reads key, key_file or key_env; only one may be given.
func (s *section) secret(key string, dst *Secret) {
	var got Secret
	s.text(key, &got.value)
	s.file(key+"_file", &got.file)
	s.text(key+"_env", &got.env)
	given := 0
	for _, k := range []string{key, key + "_file", key + "_env"} {
		if s.given(k) {
			given++
		}
	}
	if given > 1 {
		s.wrong(key+"_file", "config.only_one", text.Name("key", key))
		return
	}
	*dst = got
}

// File returns the file that the secret is kept in, or "".
func (s Secret) File() string { return s.file }
