package config

import (
	"fmt"
	"slices"
	"strings"
)

// Remove returns the text of a configuration without one of its [[tables]],
// which name tells, and everything else as it was. The outcome is checked as a
// whole, as Edit does. A table that is not there leaves the text as it is.
func Remove(text []byte, path, table, name string) ([]byte, error) {
	if _, err := Parse(text, path); err != nil {
		return nil, err
	}
	root, _, _ := parse(text)
	t := findTable(root, table, name)
	if t == nil {
		return text, nil
	}
	lines, err := cut(split(text), t)
	if err != nil {
		return nil, fmt.Errorf("config: remove %s from %s: %w", name, path, err)
	}
	out := []byte(strings.Join(lines, ""))
	if _, err := Parse(out, path); err != nil {
		return nil, err
	}
	return out, nil
}

// cut takes a table out: its lines, the comment right above its header, and the
// empty lines that parted it. What stands after the last key belongs to what
// follows.
func cut(lines []string, table *node) ([]string, error) {
	b, err := blockOf(lines, table)
	if err != nil {
		return nil, err
	}
	empty := func(i int) bool { return i >= 0 && i < len(lines) && strings.TrimSpace(lines[i]) == "" }
	for empty(b.to) {
		b.to++
	}
	if b.to == len(lines) && empty(b.from-1) {
		b.from--
	}
	return slices.Delete(lines, b.from, b.to), nil
}
