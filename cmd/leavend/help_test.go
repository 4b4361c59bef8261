package main

import (
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor/sim"
)

// What many tests of this folder begin with.

// parsed returns the config of a text, which must be sound.
func parsed(t testing.TB, text string) *config.Config {
	t.Helper()
	c, err := config.Parse([]byte(text), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// write writes a file.
func write(t testing.TB, file, text string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// writeConfig writes a config into a folder of its own.
func writeConfig(t testing.TB, text string) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "leavend.toml")
	write(t, file, text)
	return file
}

// invented is the invented kitchen of the demo, in the test's own time.
func invented(t testing.TB) *sim.Kitchen {
	t.Helper()
	k, err := sim.Demo(time.Now, 1)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// freePort returns an address on which nobody listens.
func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
