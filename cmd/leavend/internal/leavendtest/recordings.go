package leavendtest

import (
	"io"
	"os"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/replay"
)

// Curves is the folder of the recordings, seen from a package of the program.
const Curves = "../../../../testdata/curves/"

// Unpacked returns the lines of a recording.
func Unpacked(t *testing.T, name string) []string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in, closer, err := replay.Unpack(f)
	if err != nil {
		t.Fatal(err)
	}
	defer closer()
	raw, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(raw), "\n"), "\n")
}
