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

// cut takes a table out: its lines from the comment right above its header to the
// last of its keys, and the empty lines that parted it. What stands after that
// belongs to what follows.
func cut(lines []string, table *node) ([]string, error) {
	from, to := table.line-1, table.line
	if table.shape != isTable || !headerLine().MatchString(lines[from]) {
		return nil, errByHand
	}
	from = aboveComment(lines, from)
	for i := to; i < len(lines) && !headerLine().MatchString(lines[i]); i++ {
		if said := strings.TrimSpace(lines[i]); said != "" && said[0] != '#' {
			to = i + 1
		}
	}
	empty := func(i int) bool { return i >= 0 && i < len(lines) && strings.TrimSpace(lines[i]) == "" }
	for empty(to) {
		to++
	}
	if to == len(lines) && empty(from-1) {
		from--
	}
	return slices.Delete(lines, from, to), nil
}

// aboveComment returns where the comment begins that stands right above a line.
func aboveComment(lines []string, i int) int {
	for i > 0 && strings.HasPrefix(strings.TrimSpace(lines[i-1]), "#") {
		i--
	}
	return i
}
