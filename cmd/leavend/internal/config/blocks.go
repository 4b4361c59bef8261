package config

import "strings"

// block is a run of lines, from and up to but not with an index.
type block struct{ from, to int }

// blockOf finds the lines of a table: from the comment right above its header to
// the last of its keys.
func blockOf(lines []string, table *node) (block, error) {
	b := block{table.line - 1, table.line}
	if table.shape != isTable || !headerLine().MatchString(lines[b.from]) {
		return b, errByHand
	}
	b.from = aboveComment(lines, b.from)
	for i := b.to; i < len(lines) && !headerLine().MatchString(lines[i]); i++ {
		if said := strings.TrimSpace(lines[i]); said != "" && said[0] != '#' {
			b.to = i + 1
		}
	}
	return b, nil
}

// aboveComment returns where the comment begins that stands right above a line.
func aboveComment(lines []string, i int) int {
	for i > 0 && strings.HasPrefix(strings.TrimSpace(lines[i-1]), "#") {
		i--
	}
	return i
}
