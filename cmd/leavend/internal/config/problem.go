package config

import (
	"fmt"
	"sort"
	"strings"
)

// Problem is one thing that is wrong, or doubtful, in a configuration file.
type Problem struct {
	Line int    // in the file, from 1; 0 if it concerns no line in particular
	Key  string // the full key, such as "mat.setpoint_c"; "" for the file itself
	Text string // what is wrong, with the value and what is allowed
}

// String returns the problem as "key: text", as it stands after the place.
func (p Problem) String() string {
	if p.Key == "" {
		return p.Text
	}
	return p.Key + ": " + p.Text
}

// Error is everything that is wrong with one file, in the order of its lines.
type Error struct {
	File     string
	Problems []Problem
}

// Error returns one line a problem: "leavend.toml:12: mat.setpoint_c: 62 is
// above the limit 35".
func (e *Error) Error() string {
	var lines []string
	for i, p := range e.Problems {
		if i == mostPrinted {
			lines = append(lines, fmt.Sprintf("%s: and %d more", e.File, len(e.Problems)-i))
			break
		}
		lines = append(lines, p.at(e.File))
	}
	return strings.Join(lines, "\n")
}

// mostPrinted bounds what Error prints; a file with more mistakes is most
// likely no leavend config at all. Problems has them all.
const mostPrinted = 100

// at returns the problem with its place in front, as editors understand it.
func (p Problem) at(file string) string {
	if p.Line == 0 {
		return file + ": " + p.String()
	}
	return fmt.Sprintf("%s:%d: %s", file, p.Line, p)
}

// inOrder sorts problems by line, keeping the order of those on one line.
func inOrder(problems []Problem) []Problem {
	sort.SliceStable(problems, func(i, j int) bool { return problems[i].Line < problems[j].Line })
	return problems
}
