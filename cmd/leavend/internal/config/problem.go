package config

import (
	"fmt"
	"sort"

	"leavend/cmd/leavend/internal/text"
)

// Problem is one thing that is wrong, or doubtful, in a configuration file.
type Problem struct {
	Line int          // in the file, from 1; 0 if it concerns no line in particular
	Key  string       // the full key, such as "mat.setpoint_c"; "" for the file itself
	Say  text.Message // what is wrong, with the value and what is allowed
}

// Explain returns the problem as "key: what is wrong", as it stands after the place.
func (p Problem) Explain() text.Message {
	if p.Key == "" {
		return p.Say
	}
	return text.Parts(text.Literal(p.Key+": "), p.Say)
}

// String is the same in English, for logs.
func (p Problem) String() string { return p.Explain().In(text.Reader{}) }

// Error is everything that is wrong with one file, in the order of its lines.
type Error struct {
	File     string
	Problems []Problem
}

// Error is Explain in English, for logs.
func (e *Error) Error() string { return e.Explain().In(text.Reader{}) }

// Explain returns one line a problem: "leavend.toml:12: mat.setpoint_c: 62 is
// above the limit 35".
func (e *Error) Explain() text.Message {
	var parts []text.Message
	for i, p := range e.Problems {
		if i > 0 {
			parts = append(parts, text.Literal("\n"))
		}
		if i == mostPrinted {
			parts = append(parts, text.Say("config.more", text.Name("file", e.File), text.Number("n", float64(len(e.Problems)-i))))
			break
		}
		parts = append(parts, text.Literal(p.place(e.File)), p.Explain())
	}
	return text.Parts(parts...)
}

// mostPrinted bounds what Error prints; a file with more mistakes is most
// likely no leavend config at all. Problems has them all.
const mostPrinted = 100

// place is where the problem stands, as editors understand it.
func (p Problem) place(file string) string {
	if p.Line == 0 {
		return file + ": "
	}
	return fmt.Sprintf("%s:%d: ", file, p.Line)
}

// inOrder sorts problems by line, keeping the order of those on one line.
func inOrder(problems []Problem) []Problem {
	sort.SliceStable(problems, func(i, j int) bool { return problems[i].Line < problems[j].Line })
	return problems
}
