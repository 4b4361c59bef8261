package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"leavend/cmd/leavend/internal/atomicfile"
)

// Setting is one key and its value as TOML text, such as {"floor_mm", "171.5"}.
type Setting struct{ Key, Value string }

// Edit returns the text of a configuration with settings changed in one table
// and everything else, comments too, as it was. The table is named as in the
// file: "mat", "mat.plug", or "" for the top; of [[vessel]] and its like name
// tells which. A table that is not there is added at the end. The outcome is
// checked as a whole; if it is no sound configuration the error says why, as
// Parse does.
func Edit(text []byte, path, table, name string, settings ...Setting) ([]byte, error) {
	if _, err := Parse(text, path); err != nil {
		return nil, err
	}
	for _, s := range settings {
		var err error
		if text, err = set(text, table, name, s); err != nil {
			return nil, fmt.Errorf("config: set %s in %s: %w", s.Key, path, err)
		}
	}
	if _, err := Parse(text, path); err != nil {
		return nil, err
	}
	return text, nil
}

// errByHand is returned for files that are sound but laid out in a way that
// Edit does not follow.
var errByHand = errors.New("its table is written in a way that only a hand can change; give it a [header] of its own")

// set changes one key.
func set(text []byte, table, name string, s Setting) ([]byte, error) {
	root, _, _ := parse(text)
	lines := split(text)
	t := findTable(root, table, name)
	if t == nil {
		return addTable(text, table, name, s), nil
	}
	if implied(lines, t, table) {
		at := aboveComment(lines, t.line-1)
		head := "[" + table + "]\n" + s.Key + " = " + s.Value + "\n\n"
		return []byte(strings.Join(lines[:at], "") + head + strings.Join(lines[at:], "")), nil
	}
	if n := t.fields[s.Key]; n != nil {
		line, err := replace(lines[n.line-1], s)
		if err != nil {
			return nil, err
		}
		lines[n.line-1] = line
		return []byte(strings.Join(lines, "")), nil
	}
	added := s.Key + " = " + s.Value + "\n"
	if i, ok := unsetAt(lines, t, table, s.Key); ok {
		lines[i] = added
		return []byte(strings.Join(lines, "")), nil
	}
	at, err := insertAt(lines, t, table)
	if err != nil {
		return nil, err
	}
	if at > 0 && !strings.HasSuffix(lines[at-1], "\n") {
		lines[at-1] += "\n"
	}
	return []byte(strings.Join(lines[:at], "") + added + strings.Join(lines[at:], "")), nil
}

// implied reports whether a table has no header of its own, but only tables below it,
// such as [[plan.recipe]] without [plan].
func implied(lines []string, t *node, table string) bool {
	return table != "" && strings.HasPrefix(strings.TrimLeft(lines[t.line-1], " \t["), table+".")
}

// findTable returns the table of that name, or nil.
func findTable(root *node, table, name string) *node {
	t := root
	if table == "" {
		return root
	}
	for _, part := range strings.Split(table, ".") {
		if t = t.fields[part]; t == nil {
			return nil
		}
		if t.shape != isTables {
			continue
		}
		var found *node
		for _, item := range t.items {
			if own := item.fields["name"]; own != nil && own.text == name {
				found = item
			}
		}
		if t = found; t == nil {
			return nil
		}
	}
	return t
}

// addTable puts a new table at the end of the file.
func addTable(text []byte, table, name string, s Setting) []byte {
	var b strings.Builder
	b.Write(text)
	if len(text) > 0 && text[len(text)-1] != '\n' {
		b.WriteString("\n")
	}
	header := "[" + table + "]"
	if name != "" {
		header = "[" + header + "]\nname = " + quote(name)
	}
	fmt.Fprintf(&b, "\n%s\n%s = %s\n", header, s.Key, s.Value)
	return []byte(b.String())
}

// quote returns text as a TOML string.
func quote(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return r == '"' || r == '\\' || r < ' ' || r == 0x7f }) {
		return `"` + s + `"`
	}
	data, err := toml.Marshal(map[string]string{"x": s})
	if err != nil {
		return fmt.Sprintf("%q", s)
	}
	return strings.TrimSpace(strings.TrimPrefix(string(data), "x = "))
}

// split returns the lines of a text, each with its line end.
func split(text []byte) []string {
	lines := strings.SplitAfter(string(text), "\n")
	if lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	return lines
}

// unsetAt finds the line of the table where the key stands without being set,
// "#key = …", as in the reference.
func unsetAt(lines []string, t *node, table, key string) (int, bool) {
	from := t.line
	if table == "" {
		from = 0
	}
	for i := from; i < len(lines) && !headerLine().MatchString(lines[i]); i++ {
		// A table that is not set ends the search too.
		if strings.HasPrefix(lines[i], "#[") {
			return 0, false
		}
		if strings.HasPrefix(lines[i], "#"+key+" =") {
			return i, true
		}
	}
	return 0, false
}

// insertAt returns the index of the line before which a new key of the table
// goes: behind its name, or else behind its header; at the top of the file,
// before the first header.
func insertAt(lines []string, t *node, table string) (int, error) {
	if table == "" {
		for i, line := range lines {
			if strings.HasPrefix(strings.TrimSpace(line), "[") {
				return i, nil
			}
		}
		return len(lines), nil
	}
	if !headerLine().MatchString(lines[t.line-1]) {
		return 0, errByHand
	}
	if own := t.fields["name"]; own != nil && own.line > t.line && oneLine(lines[own.line-1]) {
		return own.line, nil
	}
	return t.line, nil
}

var (
	headerLine = later(`^\s*\[`)
	keyLine    = later(`^(\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=\s*)(.*?)(\r?\n?)$`)
)

// oneLine reports whether a line holds one key with its whole value.
func oneLine(line string) bool {
	_, err := replace(line, Setting{Value: "0"})
	return err == nil
}

// replace puts another value into a line, and keeps its indentation and its
// comment.
func replace(line string, s Setting) (string, error) {
	m := keyLine().FindStringSubmatch(line)
	if m == nil {
		return "", errByHand
	}
	value, comment, ok := apart(m[3])
	if !ok {
		return "", errors.New("its value runs over several lines; change it by hand")
	}
	gap := m[3][len(value) : len(m[3])-len(comment)]
	return m[1] + s.Value + gap + comment + m[4], nil
}

// apart splits what follows "key =" into the value and the comment. The first
// "#" before which there is a whole value begins the comment.
func apart(rest string) (value, comment string, ok bool) {
	whole := func(s string) bool {
		var x map[string]any
		return toml.Unmarshal([]byte("x = "+s), &x) == nil
	}
	for i, c := range rest {
		if c == '#' && whole(rest[:i]) {
			return strings.TrimRight(rest[:i], " \t"), rest[i:], true
		}
	}
	return strings.TrimRight(rest, " \t"), "", whole(rest)
}

// Save writes a configuration to its file: whole or not at all, with the
// rights that the file has. A symbolic link stays one.
func Save(path string, text []byte) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	mode := fs.FileMode(0o640)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
		if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, text) {
			return nil
		}
	}
	if err := atomicfile.Write(path, text, mode); err != nil {
		return fmt.Errorf("config: save %s: %w", path, err)
	}
	return nil
}
