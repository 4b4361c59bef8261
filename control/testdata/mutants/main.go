// Command mutants builds package control's tests with every mutant in one
// binary. MUTANT=17 in the environment switches the 17th on; without it the
// code is as it stands. From the root of the repository:
//
//	go run ./control/testdata/mutants -o control/mutants.test > mutants.txt
//
// It prints one line a mutant: number, place, what is changed. Comparisons move
// by an equal sign or turn around, sums become differences, products become
// quotients, "and" becomes "or", a negation goes. In the guard's files
// durations and temperatures double, and assignments and calls are left out.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/printer"
	"go/token"
	"go/types"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// guard are the files in which statements and numbers are mutated too.
var guard = []string{"budget.go", "doubt.go", "guard.go", "rules.go", "limits.go", "linger.go", "snapshot.go", "course.go", "schedule.go", "mat.go"}

// words are the files that hold sentences and plain data.
var words = []string{"cautions.go", "reason.go", "kinds.go", "control.go", "state.go"}

// helpers are what a mutated expression becomes a call of.
const helpers = `package control

import (
	"os"
	"strconv"
)

var mutantID, _ = strconv.Atoi(os.Getenv("MUTANT"))

func mutKeep(id int) bool { return id != mutantID }

func mutPick[T any](id int, is, mutated T) T {
	if id == mutantID {
		return mutated
	}
	return is
}

func mutLazy(id int, is, mutated func() bool) bool {
	if id == mutantID {
		return mutated()
	}
	return is()
}

func mutTwice[T ~int64 | ~float64](id int, v T) T {
	if id == mutantID {
		return v * 2
	}
	return v
}

func mutAnd(id int, a bool, b func() bool) bool {
	if id == mutantID {
		return a || b()
	}
	return a && b()
}

func mutOr(id int, a bool, b func() bool) bool {
	if id == mutantID {
		return a && b()
	}
	return a || b()
}
`

var swaps = map[token.Token]token.Token{
	token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR,
	token.EQL: token.NEQ, token.NEQ: token.EQL, token.ADD: token.SUB, token.SUB: token.ADD,
	token.MUL: token.QUO, token.QUO: token.MUL,
}

// mutator rewrites one file.
type mutator struct {
	fset  *token.FileSet
	info  *types.Info
	n     int
	guard bool
}

func main() {
	out := flag.String("o", "control/mutants.test", "where the binary goes")
	flag.Parse()
	if err := build(*out); err != nil {
		log.Fatal(err)
	}
}

func build(out string) error {
	dir, err := filepath.Abs("control")
	if err != nil {
		return err
	}
	m := &mutator{fset: token.NewFileSet(), info: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}}
	var files []*ast.File
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return err
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(m.fset, name, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		files = append(files, f)
	}
	conf := types.Config{Importer: importer.ForCompiler(m.fset, "source", nil)}
	if _, err := conf.Check("control", m.fset, files, m.info); err != nil {
		return err
	}
	tmp, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	overlay := map[string]string{}
	put := func(name string, text []byte) error {
		overlay[filepath.Join(dir, name)] = filepath.Join(tmp, name)
		return os.WriteFile(filepath.Join(tmp, name), text, 0o600)
	}
	for _, f := range files {
		name := filepath.Base(m.fset.File(f.Pos()).Name())
		if slices.Contains(words, name) {
			continue
		}
		m.guard = slices.Contains(guard, name)
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil {
				m.block(fn.Body.List)
			}
		}
		var b bytes.Buffer
		if err := printer.Fprint(&b, token.NewFileSet(), f); err != nil {
			return err
		}
		if err := put(name, b.Bytes()); err != nil {
			return err
		}
	}
	if err := put("mutants.go", []byte(helpers)); err != nil {
		return err
	}
	list, err := json.Marshal(map[string]any{"Replace": overlay})
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(tmp, "overlay.json"), list, 0o600); err != nil {
		return err
	}
	cmd := exec.Command("go", "test", "-overlay", filepath.Join(tmp, "overlay.json"), "-ldflags=-s -w", "-c", "-o", out, "./control")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	cmd.Stderr = os.Stderr
	return cmd.Run()
}

// note numbers a mutant and prints it.
func (m *mutator) note(at token.Pos, what string) ast.Expr {
	m.n++
	p := m.fset.Position(at)
	fmt.Printf("%d %s:%d %s\n", m.n, filepath.Base(p.Filename), p.Line, what)
	return &ast.BasicLit{Kind: token.INT, Value: fmt.Sprint(m.n)}
}

func call(name string, args ...ast.Expr) ast.Expr {
	return &ast.CallExpr{Fun: ast.NewIdent(name), Args: args}
}

// numeric reports whether e has a number that is not known beforehand.
func (m *mutator) numeric(e ast.Expr) bool {
	tv := m.info.Types[e]
	if tv.Type == nil || tv.Value != nil {
		return false
	}
	b, ok := tv.Type.Underlying().(*types.Basic)
	return ok && b.Info()&(types.IsInteger|types.IsFloat) != 0
}
