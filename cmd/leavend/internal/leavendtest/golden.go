package leavendtest

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// updateGolden is a flag of each package whose tests use Golden.
var updateGolden = flag.Bool("updategolden", false, "write testdata/golden")

// Golden compares a text with its golden file in testdata/golden, which freezes
// what the program says, so that a change of its structure shows whether it
// changed anything else. `go test -run Golden -updategolden` writes the files;
// look at the difference before you commit it.
func Golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "golden", name)
	if *updateGolden {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	gotLines, wantLines := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	shown := 0
	for i := range max(len(gotLines), len(wantLines)) {
		var g, w string
		if i < len(gotLines) {
			g = gotLines[i]
		}
		if i < len(wantLines) {
			w = wantLines[i]
		}
		if g != w {
			if shown++; shown > 5 {
				t.Errorf("%s: and more", name)
				return
			}
			t.Errorf("%s:%d\n got %s\nwant %s", name, i+1, g, w)
		}
	}
}
