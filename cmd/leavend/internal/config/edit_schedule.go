package config

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// EditSchedule returns the text of a configuration with the mat's schedule
// replaced by slots, in their order, and everything else, comments too, as it
// was. A slot that was there before keeps its own lines. The new ones stand
// where the first of the old ones stood; none at all leaves setpoint_c alone
// to hold. The outcome is checked as a whole, and an error says why it is no
// sound configuration, as Parse does.
func EditSchedule(text []byte, path string, slots []Slot) ([]byte, error) {
	before, err := Parse(text, path)
	if err != nil {
		return nil, err
	}
	if slices.EqualFunc(before.Mat.Schedule, slots, Slot.equal) {
		return text, nil
	}
	lines := split(text)
	old, err := blocksOf(text, lines, "mat", "schedule")
	if err != nil {
		return nil, fmt.Errorf("config: set mat.schedule in %s: %w", path, err)
	}
	var fresh []string
	for _, slot := range slots {
		i := slices.IndexFunc(before.Mat.Schedule, slot.equal)
		if i >= 0 {
			fresh = append(fresh, strings.Join(lines[old[i].from:old[i].to], ""))
			continue
		}
		fresh = append(fresh, slot.toml(before.Units))
	}
	after := []byte(putBlocks(lines, old, fresh, "#[[mat.schedule]]"))
	if _, err := Parse(after, path); err != nil {
		return nil, err
	}
	return after, nil
}

// equal reports whether two slots ask for the same.
func (s Slot) equal(o Slot) bool {
	same := s.From == o.From && s.To == o.To && s.Stage == o.Stage && s.Rest == o.Rest && slices.Equal(s.Days, o.Days)
	return same && (s.Rest || math.Abs(s.SetpointC-o.SetpointC) < 0.005)
}

// toml writes a slot as a table of its own, its warmth in the units that the
// baker reads.
func (s Slot) toml(units Units) string {
	var b strings.Builder
	b.WriteString("[[mat.schedule]]\n")
	if s.From != s.To {
		fmt.Fprintf(&b, "from = %q\nto = %q\n", s.From, s.To)
	}
	if len(s.Days) > 0 {
		fmt.Fprintf(&b, "days = [\"%s\"]\n", strings.Join(texts(s.Days), `", "`))
	}
	if s.Stage != "" {
		fmt.Fprintf(&b, "stage = %q\n", s.Stage)
	}
	switch {
	case s.Rest:
		b.WriteString("rest = true\n")
	case units == US:
		fmt.Fprintf(&b, "setpoint_c = \"%s F\"\n", decimal(s.SetpointC*9/5+32))
	default:
		fmt.Fprintf(&b, "setpoint_c = %s\n", decimal(s.SetpointC))
	}
	return b.String()
}

// texts returns words as plain strings.
func texts[T ~string](words []T) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return out
}

// decimal writes a temperature with the digits it needs, at most two.
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
