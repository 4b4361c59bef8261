package atomicfile

import (
	"os"
	"path/filepath"
	"testing"
)

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "kept.json")
	for _, text := range []string{"a longer text", "short"} {
		if err := Write(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(file)
		if err != nil || string(got) != text {
			t.Errorf("got %q, %v, want %q", got, err, text)
		}
	}
	info, err := os.Stat(file)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
}

// TestWriteFails leaves what was there, and nothing else, where a name is taken by
// a folder.
func TestWriteFails(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "folder")
	if err := os.MkdirAll(filepath.Join(file, "inside"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := Write(file, []byte("x"), 0o600); err == nil {
		t.Error("a folder was replaced")
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
