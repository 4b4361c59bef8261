// Package golden holds what the program says to a file, so that a change of its
// structure shows whether it changed anything else.
package golden

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Update writes the files instead of comparing: `go test PACKAGE -update`. Look at the
// difference before you commit it.
var Update = flag.Bool("update", false, "write the golden files")

// mostShown is how many lines that differ are shown.
const mostShown = 5

// Compare compares a text with a file.
func Compare(t *testing.T, file, got string) {
	t.Helper()
	if *Update {
		write(t, file, got)
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	gotLines, wantLines := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	shown := 0
	for i := range max(len(gotLines), len(wantLines)) {
		g, w := line(gotLines, i), line(wantLines, i)
		if g == w {
			continue
		}
		if shown++; shown > mostShown {
			t.Errorf("%s: and more; -update writes it", file)
			return
		}
		t.Errorf("%s:%d\n got %s\nwant %s", file, i+1, g, w)
	}
}

func write(t *testing.T, file, got string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
		t.Fatal(err)
	}
}

// line is a line of a text, or says that the text ends before it: a missing line and
// an empty one differ.
func line(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(the end)"
}
