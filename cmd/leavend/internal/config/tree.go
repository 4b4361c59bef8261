package config

import (
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"leavend/cmd/leavend/internal/text"
)

// shape is what a node of the file looks like to the reader.
type shape uint8

const (
	isText   shape = iota + 1
	isWhole        // an integer
	isNumber       // a number with a fraction
	isFlag         // true or false
	isTime         // any of TOML's dates and times, kept as written
	isList         // [a, b]
	isTable        // [name] or {…}
	isTables       // [[name]]
)

// say names the shape.
func (s shape) say() text.Message {
	return text.Say("config.shape." + [...]string{"nothing", "text", "whole", "number", "flag", "time", "list", "table", "tables"}[s])
}

// node is one value of the file with the line it stands on. The library's own
// decoder stops at the first wrong type; a tree of our own lets every mistake
// be found and placed in one go.
type node struct {
	shape  shape
	line   int
	text   string           // of a scalar, as decoded
	keys   []string         // of a table, in the order of the file
	fields map[string]*node // of a table
	items  []*node          // of a list or of a list of tables
	stated bool             // a table that its own header has opened
	dotted string           // a table that a key with dots has opened: that key
}

// quoted returns the value as it should stand in a message; "" of one that has none.
func (n *node) quoted() string {
	switch n.shape {
	case isText:
		return fmt.Sprintf("%q", n.text)
	case isList, isTable, isTables:
		return ""
	}
	return n.text
}

func newTable(line int) *node {
	return &node{shape: isTable, line: line, fields: map[string]*node{}}
}

// parser builds the tree of one file.
type parser struct {
	lines    []int // offset at which each line starts
	problems []Problem
	toml     unstable.Parser
	root     *node
}

// maxBroken bounds how many broken lines are looked for in one file; beyond
// that it is not a TOML file at all.
const maxBroken = 20

// parse reads data into a tree. A line that is no TOML is reported, taken for
// empty, and the rest is read all the same; broken counts such lines.
func parse(data []byte) (root *node, problems []Problem, broken int) {
	rest := append([]byte(nil), data...)
	var syntax []Problem
	for {
		p := &parser{lines: lineStarts(rest), root: newTable(1)}
		p.walk(rest)
		bad, ok := p.judge(rest)
		if !ok {
			return p.root, append(syntax, p.problems...), len(syntax)
		}
		syntax = append(syntax, bad)
		if len(syntax) == maxBroken || !blank(rest, p.lines, bad.Line) {
			return p.root, syntax, len(syntax)
		}
	}
}

// judge asks the library whether the text is valid TOML. What it says about a
// line that already has a problem, such as a key given twice, is left out.
func (p *parser) judge(data []byte) (Problem, bool) {
	var all map[string]any
	err := toml.Unmarshal(data, &all)
	if err == nil {
		return Problem{}, false
	}
	line := 1
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		line, _ = decode.Position()
	}
	for _, known := range p.problems {
		if known.Line == line {
			return Problem{}, false
		}
	}
	what := strings.TrimPrefix(err.Error(), "toml: ")
	return Problem{Line: line, Say: text.Say("config.toml", text.Name("err", what))}, true
}

// blank overwrites one line with spaces and reports whether it held anything.
func blank(text []byte, starts []int, line int) bool {
	if line < 1 || line > len(starts) {
		return false
	}
	held := false
	for i := starts[line-1]; i < len(text) && text[i] != '\n'; i++ {
		held = held || text[i] != ' '
		text[i] = ' '
	}
	return held
}

func lineStarts(text []byte) []int {
	starts := []int{0}
	for i, c := range text {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	return starts
}

// line returns the line, from 1, that an offset lies on.
func (p *parser) line(offset uint32) int {
	return sort.SearchInts(p.lines, int(offset)+1)
}

func (p *parser) problem(line int, key []string, sentence string, args ...text.Arg) {
	p.problems = append(p.problems, Problem{Line: line, Key: strings.Join(key, "."), Say: text.Say(sentence, args...)})
}

// since is the line on which a node began.
func since(n *node) text.Arg { return text.Name("line", strconv.Itoa(n.line)) }

// walk turns the expressions of the file into the tree, as far as they parse.
func (p *parser) walk(text []byte) {
	p.toml.Reset(text)
	table, path := p.root, []string(nil)
	for p.toml.NextExpression() {
		e := p.toml.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table, path = p.open(e)
		case unstable.KeyValue:
			p.keyValue(table, path, e)
		}
	}
}

// key returns the parts of a key and the line it stands on.
func (p *parser) key(it unstable.Iterator) (parts []string, line int) {
	for it.Next() {
		if line == 0 {
			line = p.line(it.Node().Raw.Offset)
		}
		parts = append(parts, string(it.Node().Data))
	}
	return parts, line
}

// open finds or makes the table that a header names. After a wrong header the
// keys below it still go somewhere, so that they are checked too.
func (p *parser) open(e *unstable.Node) (*node, []string) {
	parts, line := p.key(e.Key())
	last := parts[len(parts)-1]
	parent := p.descend(p.root, parts[:len(parts)-1], line)
	old := parent.fields[last]
	if e.Kind == unstable.ArrayTable {
		item := newTable(line)
		item.stated = true
		switch {
		case old == nil:
			parent.add(last, &node{shape: isTables, line: line, items: []*node{item}})
		case old.shape == isTables:
			old.items = append(old.items, item)
		default:
			p.problem(line, parts, "config.already", text.Sub("shape", old.shape.say()), since(old))
		}
		return item, parts
	}
	switch {
	case old == nil:
		t := newTable(line)
		t.stated = true
		parent.add(last, t)
		return t, parts
	case old.shape == isTable && old.dotted != "":
		p.problem(line, parts, "config.split", since(old), text.Name("key", old.dotted))
		old.stated = true
		return old, parts
	case old.shape == isTable && !old.stated:
		old.stated = true
		return old, parts
	case old.shape == isTable:
		p.problem(line, parts, "config.twice_table", since(old))
		return old, parts
	}
	p.problem(line, parts, "config.already", text.Sub("shape", old.shape.say()), since(old))
	return newTable(line), parts
}

// descend follows a dotted key down, making the tables on the way.
func (p *parser) descend(t *node, parts []string, line int) *node {
	for i, part := range parts {
		next := t.fields[part]
		switch {
		case next == nil:
			next = newTable(line)
			t.add(part, next)
		case next.shape == isTables:
			next = next.items[len(next.items)-1]
		case next.shape != isTable:
			p.problem(line, parts[:i+1], "config.inside", text.Sub("shape", next.shape.say()), since(next))
			next = newTable(line)
		}
		t = next
	}
	return t
}

func (t *node) add(key string, n *node) {
	t.keys = append(t.keys, key)
	t.fields[key] = n
}

func (p *parser) keyValue(table *node, path []string, e *unstable.Node) {
	parts, line := p.key(e.Key())
	last := parts[len(parts)-1]
	t := p.descend(table, parts[:len(parts)-1], line)
	if len(parts) > 1 && !t.stated && t.dotted == "" {
		t.dotted = strings.Join(parts, ".")
	}
	full := append(append([]string(nil), path...), parts...)
	if old := t.fields[last]; old != nil {
		p.problem(line, full, "config.twice_key", since(old))
		return
	}
	t.add(last, p.value(e.Value(), full, line))
}

// value copies one value out of the library's tree, which is used again for
// the next expression.
func (p *parser) value(v *unstable.Node, path []string, line int) *node {
	n := &node{line: line, text: string(v.Data)}
	switch v.Kind {
	case unstable.String:
		n.shape = isText
	case unstable.Integer:
		n.shape = isWhole
	case unstable.Float:
		n.shape = isNumber
	case unstable.Bool:
		n.shape = isFlag
	case unstable.Array:
		n.shape = isList
		for it := v.Children(); it.Next(); {
			n.items = append(n.items, p.value(it.Node(), path, line))
		}
	case unstable.InlineTable:
		n = newTable(line)
		n.stated = true
		for it := v.Children(); it.Next(); {
			p.keyValue(n, path, it.Node())
		}
	default:
		n.shape = isTime
	}
	return n
}
