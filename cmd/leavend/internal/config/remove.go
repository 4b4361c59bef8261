package config

import (
	"fmt"
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
	lines := split(text)
	if t.line < 1 || !headerLine().MatchString(lines[t.line-1]) {
		return nil, fmt.Errorf("config: remove %s from %s: %w", name, path, errByHand)
	}
	from, to := t.line-1, t.line
	for i := t.line; i < len(lines) && !headerLine().MatchString(lines[i]); i++ {
		// What stands after the last key belongs to what follows.
		if s := strings.TrimSpace(lines[i]); s != "" && !strings.HasPrefix(s, "#") {
			to = i + 1
		}
	}
	if from > 0 && strings.TrimSpace(lines[from-1]) == "" && (to == len(lines) || strings.TrimSpace(lines[to]) == "") {
		from-- // the empty line that parted it
	}
	out := []byte(strings.Join(lines[:from], "") + strings.Join(lines[to:], ""))
	if _, err := Parse(out, path); err != nil {
		return nil, err
	}
	return out, nil
}
