package leavend_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// numbers are the sizes of the tree's own Go code.
type numbers struct {
	code, comment, test int
	support             int            // of code: what only tests need
	packages            map[string]int // code lines, without tests
	methods             map[string]int // by package and type
	interfaces          map[string]int
	functions           []int // lines of each
}

// TestNumbers prints how large packages, types, interfaces and functions are:
// `go test -run TestNumbers -v .` It fails where a part of the application has
// outgrown what one person can hold in mind. Packages that only tests need, and
// the virtual board, are named apart: they are neither the program nor a test.
func TestNumbers(t *testing.T) {
	n := numbers{packages: map[string]int{}, methods: map[string]int{}, interfaces: map[string]int{}}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		return n.file(path)
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(n.functions)
	t.Logf("%d code lines without tests, %d of them only for tests; %d of tests (%.2f a line), comments %.0f %%, median function %d lines",
		n.code, n.support, n.test, float64(n.test)/float64(n.code), 100*float64(n.comment)/float64(n.code+n.comment), n.functions[len(n.functions)/2])
	t.Logf("the program alone: %d code lines, %.2f lines of tests and of what they need for each", n.code-n.support, float64(n.test+n.support)/float64(n.code-n.support))
	for what, sizes := range map[string]map[string]int{"packages": n.packages, "methods of a type": n.methods, "interfaces": n.interfaces} {
		t.Logf("largest %s: %v", what, largest(sizes))
	}
	if n.functions[len(n.functions)/2] > 12 {
		t.Error("the median function is longer than 12 lines")
	}
	n.bound(t, "a package", n.packages, 4100)
	n.bound(t, "a type's methods", n.methods, 45)
	n.bound(t, "an interface", n.interfaces, 10)
}

// bound fails for what has grown beyond a size. The sizes are the present ones,
// rounded up: they may be lowered, and a part that reaches one is to be split.
func (n *numbers) bound(t *testing.T, what string, sizes map[string]int, most int) {
	t.Helper()
	for name, size := range sizes {
		if size > most {
			t.Errorf("%s is too large: %s has %d, and at most %d are allowed; split it by what changes together", what, name, size, most)
		}
	}
}

// file counts one file.
func (n *numbers) file(path string) error {
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
	if err != nil || ast.IsGenerated(f) {
		return err
	}
	comments, all := 0, fset.File(f.Pos()).LineCount()
	for _, g := range f.Comments {
		comments += fset.Position(g.End()).Line - fset.Position(g.Pos()).Line + 1
	}
	if strings.HasSuffix(path, "_test.go") {
		n.test += all - comments
		return nil
	}
	dir := filepath.Dir(path)
	if strings.HasSuffix(dir, "test") || strings.HasPrefix(filepath.ToSlash(dir), "deploy/board") {
		n.support += all - comments
	}
	n.code, n.comment = n.code+all-comments, n.comment+comments
	n.packages[dir] += all - comments
	ast.Inspect(f, func(node ast.Node) bool {
		switch d := node.(type) {
		case *ast.FuncDecl:
			n.functions = append(n.functions, fset.Position(d.End()).Line-fset.Position(d.Pos()).Line+1)
			if d.Recv != nil {
				n.methods[dir+"."+receiver(d.Recv.List[0].Type)]++
			}
		case *ast.TypeSpec:
			if i, ok := d.Type.(*ast.InterfaceType); ok {
				n.interfaces[dir+"."+d.Name.Name] = i.Methods.NumFields()
			}
		}
		return true
	})
	return nil
}

// receiver is the name of a method's type.
func receiver(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.StarExpr:
		return receiver(e.X)
	case *ast.IndexExpr:
		return receiver(e.X)
	case *ast.Ident:
		return e.Name
	}
	return "?"
}

// largest are the five largest entries.
func largest(sizes map[string]int) []string {
	var names []string
	for name := range sizes {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int { return sizes[b] - sizes[a] })
	for i, name := range names {
		names[i] = strings.TrimPrefix(name, "cmd/leavend/internal/") + " " + strconv.Itoa(sizes[name])
	}
	return names[:min(5, len(names))]
}
