package main

import (
	"go/ast"
	"go/token"
	"go/types"
	"reflect"
)

// block rewrites statements in place.
func (m *mutator) block(list []ast.Stmt) {
	for i, s := range list {
		at := s.Pos()
		m.walk(reflect.ValueOf(s))
		if !m.guard {
			continue
		}
		switch s := s.(type) {
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE {
				continue
			}
		case *ast.ExprStmt, *ast.IncDecStmt:
		default:
			continue
		}
		list[i] = &ast.IfStmt{Cond: call("mutKeep", m.note(at, "left out")), Body: &ast.BlockStmt{List: []ast.Stmt{s}}}
	}
}

var exprType = reflect.TypeFor[ast.Expr]()

// walk rewrites every expression below v. Types, labels and left sides stay.
func (m *mutator) walk(v reflect.Value) {
	if v.Kind() == reflect.Interface || v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return
		}
		switch n := v.Interface().(type) {
		case *ast.BlockStmt:
			m.block(n.List)
			return
		case *ast.CaseClause:
			m.exprs(n.List)
			m.block(n.Body)
			return
		case *ast.AssignStmt:
			m.exprs(n.Rhs)
			return
		case *ast.DeclStmt, *ast.TypeSwitchStmt, *ast.IncDecStmt:
			return
		case *ast.RangeStmt:
			m.block(n.Body.List)
			return
		case *ast.FuncLit:
			m.block(n.Body.List)
			return
		case *ast.CompositeLit:
			m.exprs(n.Elts)
			return
		case *ast.KeyValueExpr:
			n.Value = m.expr(n.Value)
			return
		case *ast.CallExpr:
			m.exprs(n.Args)
			return
		case *ast.IndexExpr, *ast.SelectorExpr, *ast.Ident, *ast.BasicLit, *ast.SliceExpr, *ast.TypeAssertExpr, *ast.StarExpr:
			return
		}
		m.walk(v.Elem())
		return
	}
	if v.Kind() != reflect.Struct {
		return
	}
	for i := range v.NumField() {
		f := v.Field(i)
		switch {
		case f.Type() == exprType && !f.IsNil():
			f.Set(reflect.ValueOf(m.expr(f.Interface().(ast.Expr))))
		case f.Type() == reflect.TypeFor[[]ast.Expr]():
			m.exprs(f.Interface().([]ast.Expr))
		case f.Kind() == reflect.Interface || f.Kind() == reflect.Pointer:
			m.walk(f)
		}
	}
}

func (m *mutator) exprs(list []ast.Expr) {
	for i := range list {
		list[i] = m.expr(list[i])
	}
}

// expr returns what an expression becomes.
func (m *mutator) expr(e ast.Expr) ast.Expr {
	tv := m.info.Types[e]
	if tv.IsType() {
		return e
	}
	if tv.Value != nil {
		return m.constant(e, tv)
	}
	numeric, at := m.numeric(e), e.Pos()
	m.walk(reflect.ValueOf(e))
	switch n := e.(type) {
	case *ast.UnaryExpr:
		if n.Op == token.NOT {
			return call("mutLazy", m.note(at, "not"), lazy(n), lazy(n.X))
		}
	case *ast.BinaryExpr:
		return m.binary(n, at, numeric)
	}
	return e
}

func (m *mutator) binary(n *ast.BinaryExpr, at token.Pos, numeric bool) ast.Expr {
	switch n.Op {
	case token.LAND:
		return call("mutAnd", m.note(at, "&&"), n.X, lazy(n.Y))
	case token.LOR:
		return call("mutOr", m.note(at, "||"), n.X, lazy(n.Y))
	case token.ADD, token.SUB, token.MUL, token.QUO:
		if !numeric {
			return n
		}
	}
	to, ok := swaps[n.Op]
	if !ok {
		return n
	}
	id, other := m.note(at, n.Op.String()+" "+to.String()), &ast.BinaryExpr{X: n.X, Op: to, Y: n.Y}
	if n.Op == token.EQL || n.Op == token.NEQ || n.Op == token.LSS || n.Op == token.LEQ || n.Op == token.GTR || n.Op == token.GEQ {
		return call("mutLazy", id, lazy(n), lazy(other)) // what it compares may be a call that does something
	}
	return call("mutPick", id, n, other)
}

// lazy is a function that answers with a truth.
func lazy(e ast.Expr) ast.Expr {
	return &ast.FuncLit{
		Type: &ast.FuncType{Params: &ast.FieldList{}, Results: &ast.FieldList{List: []*ast.Field{{Type: ast.NewIdent("bool")}}}},
		Body: &ast.BlockStmt{List: []ast.Stmt{&ast.ReturnStmt{Results: []ast.Expr{e}}}},
	}
}

// constant doubles durations and floats, in the guard.
func (m *mutator) constant(e ast.Expr, tv types.TypeAndValue) ast.Expr {
	name := types.TypeString(tv.Type, func(p *types.Package) string {
		if p.Name() == "control" {
			return ""
		}
		return p.Name()
	})
	if !m.guard || name != "float64" && name != "time.Duration" || tv.Value.String() == "0" {
		return e
	}
	t := ast.Expr(ast.NewIdent(name))
	typed := &ast.CallExpr{Fun: t, Args: []ast.Expr{e}}
	return call("mutTwice", m.note(e.Pos(), tv.Value.String()+" doubled"), typed)
}
