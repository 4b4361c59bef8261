package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// shown writes a tree down: each key with its line and value.
func shown(n *node, indent string) (out []string) {
	for _, key := range n.keys {
		field := n.fields[key]
		switch field.shape {
		case isTable:
			out = append(out, fmt.Sprintf("%s%s:%d", indent, key, field.line))
			out = append(out, shown(field, indent+" ")...)
		case isTables:
			for i, item := range field.items {
				out = append(out, fmt.Sprintf("%s%s[%d]:%d", indent, key, i+1, item.line))
				out = append(out, shown(item, indent+" ")...)
			}
		default:
			out = append(out, fmt.Sprintf("%s%s:%d %s", indent, key, field.line, field.quoted()))
		}
	}
	return out
}

// Every value is known with the line it stands on, however TOML lets it be
// written (toml.io, version 1.0).
func TestLinesOfValues(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"a value", "a = 1", "a:1 1"},
		{"after blank lines and a comment", "\n# x\n\na = true", "a:4 true"},
		{"text with an escape", `a = "b\tc"`, `a:1 "b\tc"`},
		{"text as it stands", `a = 'b\tc'`, `a:1 "b\\tc"`},
		{"text over lines, and what follows it", "a = \"\"\"\nb\nc\"\"\"\nd = 1", "a:1 \"b\\nc\"|d:4 1"},
		{"a list over lines, and what follows it", "a = [\n1,\n2,\n]\nb = 2", "a:1 |b:5 2"},
		{"a table", "\n[a]\nb = 1", "a:2| b:3 1"},
		{"tables within", "[a.b]\nc = 1\n[a]\nd = 2", "a:1| b:1|  c:2 1| d:4 2"},
		{"several tables", "[[a]]\nb = 1\n[[a]]\nb = 2", "a[1]:1| b:2 1|a[2]:3| b:4 2"},
		{"a table in one line", "a = { b = 1, c.d = 2 }", "a:1| b:1 1| c:1|  d:1 2"},
		{"keys with dots", "a.b.c = 1\na.b.d = 2", "a:1| b:1|  c:1 1|  d:2 2"},
		{"a key in quotes", `"a b" = 1`, "a b:1 1"},
		{"line ends of another system", "a = 1\r\nb = 2\r\n", "a:1 1|b:2 2"},
		{"dates and times", "a = 2027-01-02\nb = 07:32:00\nc = 2027-01-02T07:32:00Z", "a:1 2027-01-02|b:2 07:32:00|c:3 2027-01-02T07:32:00Z"},
		{"numbers", "a = 0x29\nb = 1e3\nc = -inf", "a:1 0x29|b:2 1e3|c:3 -inf"},
		{"no file at all", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			root, problems, broken := parse([]byte(tt.text))
			if len(problems) > 0 || broken > 0 {
				t.Fatalf("%v, %d lines broken", problems, broken)
			}
			if d := cmp.Diff(strings.Join(shown(root, ""), "|"), tt.want); d != "" {
				t.Errorf("(-got +want)\n%s", d)
			}
		})
	}
}

// A line that cannot be read is told, and the rest of the file is read all the
// same.
func TestWhatCannotBeRead(t *testing.T) {
	tests := []struct {
		name, text string
		broken     int
		lines      []int // of the problems
		want       string
	}{
		{"a line of prose", "a = 1\nthis is prose\nb = 2", 1, []int{2}, "a:1 1|b:3 2"},
		{"two of them", "x\na = 1\ny\n", 2, []int{1, 3}, "a:2 1"},
		{"a value that is missing", "a =\nb = 2", 1, []int{1}, "b:2 2"},
		{"a key that stands twice", "a = 1\na = 2", 0, []int{2}, "a:1 1"},
		{"a table that stands twice", "[a]\nb = 1\n[a]\nc = 2", 0, []int{3}, "a:1| b:2 1| c:4 2"},
		{"a table that is a value too", "a = 1\n[a]\nb = 2", 0, []int{2}, "a:1 1"},
		{"one table and several", "[a]\n[[a]]\n", 0, []int{2}, "a:1"},
		{"a key inside a value", "a = 1\na.b = 2", 0, []int{2}, "a:1 1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			root, problems, broken := parse([]byte(tt.text))
			var lines []int
			for _, p := range problems {
				lines = append(lines, p.Line)
			}
			if broken != tt.broken || !slices.Equal(lines, tt.lines) {
				t.Errorf("%d broken, problems %v, want %d and lines %v", broken, problems, tt.broken, tt.lines)
			}
			if d := cmp.Diff(strings.Join(shown(root, ""), "|"), tt.want); d != "" {
				t.Errorf("(-got +want)\n%s", d)
			}
		})
	}
}

// A file of rubbish ends after some lines, and its error after some more.
func TestRubbishHasAnEnd(t *testing.T) {
	_, problems, broken := parse([]byte(strings.Repeat("rubbish\n", 1000)))
	if broken != maxBroken || len(problems) != maxBroken {
		t.Errorf("%d broken, %d problems, want %d", broken, len(problems), maxBroken)
	}
	var text strings.Builder
	for i := range 3 * mostPrinted {
		fmt.Fprintf(&text, "k%d = 1\n", i)
	}
	_, err := Parse([]byte(text.String()), "leavend.toml")
	if err == nil || strings.Count(err.Error(), "\n") != mostPrinted || !strings.Contains(err.Error(), fmt.Sprintf("and %d more", 2*mostPrinted)) {
		t.Errorf("got %v", err)
	}
	if _, err := Parse([]byte(strings.Repeat(" ", maxFile+1)), "leavend.toml"); err == nil || !strings.Contains(err.Error(), "is larger than") {
		t.Errorf("a file without end: %v", err)
	}
}
