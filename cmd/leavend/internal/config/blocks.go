package config

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// decimal writes a number with the digits it needs, at most two.
func decimal(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}

// block is a run of lines, from and up to but not with an index.
type block struct{ from, to int }

// blocksOf finds the lines of each [[table.key]].
func blocksOf(text []byte, lines []string, table, key string) ([]block, error) {
	root, _, _ := parse(text)
	t := findTable(root, table, "")
	if t == nil || t.fields[key] == nil {
		return nil, nil
	}
	var out []block
	for _, item := range t.fields[key].items {
		b, err := blockOf(lines, item)
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}

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

// putBlocks cuts the old blocks out and puts the fresh ones where the first
// of them stood: or else where the reference shows, by a line with this header,
// how they look, or at the end.
func putBlocks(lines []string, old []block, fresh []string, header string) string {
	at := len(lines)
	if len(old) > 0 {
		at = old[0].from
	} else if i := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, header) }); i >= 0 {
		at = aboveComment(lines, i)
	}
	var b strings.Builder
	for i := 0; i <= len(lines); i++ {
		if i == at && len(fresh) > 0 {
			b.WriteString(apartFrom(b.String()) + strings.Join(fresh, "\n"))
			if len(old) == 0 && i < len(lines) {
				b.WriteString("\n")
			}
		}
		cut := slices.ContainsFunc(old, func(o block) bool { return i >= o.from && i < o.to })
		// The empty line below a block that goes, goes with it.
		below := slices.ContainsFunc(old, func(o block) bool { return i == o.to && (o.from != at || len(fresh) == 0) })
		if i == len(lines) || cut || below && strings.TrimSpace(lines[i]) == "" {
			continue
		}
		b.WriteString(lines[i])
	}
	return b.String()
}

// apartFrom is what has to stand between a text and a table behind it: an end
// of line, and an empty line.
func apartFrom(text string) string {
	switch {
	case text == "" || strings.HasSuffix(text, "\n\n"):
		return ""
	case strings.HasSuffix(text, "\n"):
		return "\n"
	}
	return "\n\n"
}
