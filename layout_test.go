package leavend_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// TestLayout holds the tree to the layers of the design: who may import whom.
// Test files are free to import what they test against.
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

// inside is the folder of the application's packages.
const inside = "leavend/cmd/leavend/internal/"

// layers are the application's packages, the lowest first. A package imports
// from its own layer and from those below; the surfaces, which map one status
// each to a format of their own, never import one another.
var layers = [][]string{
	{"atomicfile", "config", "event", "failure", "text", "feedmath", "ical", "prompt", "version"},
	{"hardware", "store"},
	{"monitor", "heating", "planning"},
	{"web", "mqtt", "metrics", "notify"},
	{"daemon", "demo", "replay", "record", "calibrate", "check", "setup"},
	{"cli"},
	{"leavendtest"}, // what the tests of several packages need
}

// surfaces is the layer whose packages never import one another.
const surfaces = 3

// layerOf returns the layer of an import path inside the application, and the
// package that it belongs to; -1 for what is not listed.
func layerOf(path string) (layer int, name string) {
	name, _, _ = strings.Cut(strings.TrimPrefix(path, inside), "/")
	for i, names := range layers {
		if slices.Contains(names, name) {
			return i, name
		}
	}
	return -1, name
}

// inLayers reports whether one package of the application may import another.
func inLayers(from, to string) bool {
	here, name := layerOf(from)
	there, other := layerOf(to)
	switch {
	case here < 0 || there < 0:
		return false
	case name == other:
		return true
	case here == surfaces && there == surfaces:
		return false
	}
	return there <= here
}

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
	case strings.HasPrefix("leavend/"+dir+"/", inside):
		if strings.HasPrefix(target, inside) {
			return inLayers("leavend/"+dir, target)
		}
		if strings.HasPrefix(target, "periph.io/x/host/") {
			return within("leavend/"+dir, inside+"hardware")
		}
		return domain || !ours
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
		{"the application reads domain values", "cmd/leavend/internal/store", "leavend/peak", true},
		{"an import never runs up", "cmd/leavend/internal/store", "leavend/cmd/leavend/internal/web", false},
		{"an import runs down", "cmd/leavend/internal/monitor", "leavend/cmd/leavend/internal/store", true},
		{"the domain layer is one", "cmd/leavend/internal/planning", "leavend/cmd/leavend/internal/monitor", true},
		{"surfaces are apart", "cmd/leavend/internal/mqtt", "leavend/cmd/leavend/internal/web", false},
		{"a surface has packages of its own", "cmd/leavend/internal/web", "leavend/cmd/leavend/internal/web/page", true},
		{"a package outside of the table imports nothing", "cmd/leavend/internal/util", "leavend/cmd/leavend/internal/store", false},
		{"a surface never opens the host", "cmd/leavend/internal/web", "periph.io/x/host/v3", false},
		{"hardware does", "cmd/leavend/internal/hardware", "periph.io/x/host/v3/gpioioctl", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := mayImport(tt.dir, tt.target); got != tt.want {
				t.Errorf("mayImport(%q, %q) = %v, want %v", tt.dir, tt.target, got, tt.want)
			}
		})
	}
}

// TestMainIsShort holds the program itself to handing on its arguments.
func TestMainIsShort(t *testing.T) {
	files, err := filepath.Glob("cmd/leavend/*.go")
	if err != nil || len(files) != 1 {
		t.Fatalf("cmd/leavend holds %v, want main.go alone", files)
	}
	b, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(b), "\n"); n >= 100 {
		t.Errorf("main.go has %d lines, want fewer than 100", n)
	}
}
