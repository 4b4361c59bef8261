// Package configtest makes configurations for tests.
package configtest

import (
	"os"
	"path/filepath"
	"testing"

	"leavend/cmd/leavend/internal/config"
)

// Parse returns the config of a text, which must be sound.
func Parse(t testing.TB, text string) *config.Config {
	t.Helper()
	c, err := config.Parse([]byte(text), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// WriteFile writes a file.
func WriteFile(t testing.TB, file, text string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// Write writes a config into a folder of its own.
func Write(t testing.TB, text string) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "leavend.toml")
	WriteFile(t, file, text)
	return file
}

// Load reads a config from its file.
func Load(t testing.TB, file string) *config.Config {
	t.Helper()
	c, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
