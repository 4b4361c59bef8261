package leavend_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestLayout holds the whole house to its plan: who may import whom. Test
// files are free to import what they test against.
func TestLayout(t *testing.T) {
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(filepath.Dir(path))
		for _, spec := range f.Imports {
			target, _ := strconv.Unquote(spec.Path.Value)
			if !mayImport(dir, target) {
				t.Errorf("%s imports %s, which %s may not", path, target, dir)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// shell lists the packages of the application shell; none imports another.
const shell = "leavend/cmd/leavend/internal/"

// mayImport is the table of the design: dir is a package's folder below the
// module root, target an import path.
func mayImport(dir, target string) bool {
	ours := strings.HasPrefix(target, "leavend/")
	std := !ours && !strings.Contains(strings.SplitN(target, "/", 2)[0], ".")
	periphConn := strings.HasPrefix(target, "periph.io/x/conn/v3")
	own := target == "leavend/"+dir || strings.HasPrefix(target, "leavend/"+dir+"/")
	domain := ours && (within(target, "leavend/sensor") || within(target, "leavend/control") || within(target, "leavend/peak"))
	switch {
	case std:
		return true
	case within(dir, "peak"):
		return own || within(target, "leavend/peak") || strings.HasPrefix(target, "gonum.org/")
	case dir == "sensor" || dir == "control":
		return false
	case within(dir, "sensor"):
		return periphConn || within(target, "leavend/sensor")
	case within(dir, "control"):
		return periphConn || within(target, "leavend/control")
	case strings.HasPrefix("leavend/"+dir+"/", shell):
		room := strings.SplitN(strings.TrimPrefix("leavend/"+dir, shell), "/", 2)[0]
		if strings.HasPrefix(target, shell) {
			return within(target, shell+room)
		}
		return domain || !ours && !strings.HasPrefix(target, "periph.io/")
	}
	return true
}

// within reports whether path is root or lies below it.
func within(path, root string) bool {
	return path == root || strings.HasPrefix(path, root+"/")
}

func TestMayImport(t *testing.T) {
	tests := []struct {
		name, dir, target string
		want              bool
	}{
		{"peak uses gonum", "peak", "gonum.org/v1/gonum/mat", true},
		{"peak knows no sensor", "peak", "leavend/sensor", false},
		{"peak knows no clock library", "peak", "github.com/jonboulle/clockwork", false},
		{"sensor stands alone", "sensor", "periph.io/x/conn/v3/i2c", false},
		{"a chip uses the bus", "sensor/vl53l1x", "periph.io/x/conn/v3/i2c", true},
		{"a chip never opens the host", "sensor/vl53l1x", "periph.io/x/host/v3", false},
		{"control stands alone", "control", "leavend/sensor", false},
		{"an output never opens the host", "control/line", "periph.io/x/host/v3/gpioioctl", false},
		{"shell reads domain values", "cmd/leavend/internal/store", "leavend/peak", true},
		{"shell rooms are apart", "cmd/leavend/internal/store", "leavend/cmd/leavend/internal/web", false},
		{"a shell room has inner rooms", "cmd/leavend/internal/web", "leavend/cmd/leavend/internal/web/page", true},
		{"shell never opens the host", "cmd/leavend/internal/web", "periph.io/x/host/v3", false},
		{"the wiring does", "cmd/leavend", "periph.io/x/host/v3/gpioioctl", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := mayImport(tt.dir, tt.target); got != tt.want {
				t.Errorf("mayImport(%q, %q) = %v, want %v", tt.dir, tt.target, got, tt.want)
			}
		})
	}
}
