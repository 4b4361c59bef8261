// Package check looks at the board that leavend is to run on and says, line
// by line, what is right, what is not, and the exact thing to do about it.
//
// It changes nothing. Everything it looks at lies below one root folder and
// behind a few functions, so that tests can show it any board.
package check

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Level is how a check came out.
type Level string

// The levels, from best to worst. Only Fail makes the command fail.
const (
	Pass Level = "pass"
	Note Level = "note" // nothing to do; good to know
	Warn Level = "warn" // it works, but not as well or as safely as it could
	Fail Level = "fail" // it will not work
)

// Result is the outcome of one check.
type Result struct {
	Topic string `json:"topic"` // what was looked at: "config", "sensor eye", "clock"
	Level Level  `json:"level"`
	Says  string `json:"says"`         // what was found, in a sentence
	Do    string `json:"do,omitempty"` // what to do about it, as exactly as can be
	Line  int    `json:"line,omitempty"`

	// Without is what of leavend is missing until a failure is repaired, such as
	// "the page"; sensors and mat run meanwhile. It is empty where they are what
	// does not work.
	Without string `json:"without,omitempty"`
}

// Report is what a whole run found.
type Report struct {
	Results []Result
}

// Add puts results at the end.
func (r *Report) Add(results ...Result) { r.Results = append(r.Results, results...) }

// Count returns how many results have a level.
func (r *Report) Count(l Level) int {
	n := 0
	for _, res := range r.Results {
		if res.Level == l {
			n++
		}
	}
	return n
}

// Failed reports whether a check of that topic failed.
func (r *Report) Failed(topic string) bool {
	for _, res := range r.Results {
		if res.Topic == topic && res.Level == Fail {
			return true
		}
	}
	return false
}

// OK reports whether nothing failed.
func (r *Report) OK() bool { return r.Count(Fail) == 0 }

// Summary says in one sentence how it came out.
func (r *Report) Summary() string {
	fails, warns := r.Count(Fail), r.Count(Warn)
	switch {
	case fails > 0 && len(r.without()) > 0:
		return fmt.Sprintf("It will run, without %s. %s to repair, %s to look at.", strings.Join(r.without(), ", "), capital(things(fails)), things(warns))
	case fails > 0:
		return fmt.Sprintf("%s to repair, %s to look at.", things(fails), things(warns))
	case warns > 0:
		return fmt.Sprintf("It will run. %s to look at.", capital(things(warns)))
	}
	return "All is well."
}

// without returns what will be missing, if nothing worse failed.
func (r *Report) without() []string {
	var parts []string
	for _, res := range r.Results {
		switch {
		case res.Level != Fail, slices.Contains(parts, res.Without):
		case res.Without == "":
			return nil
		default:
			parts = append(parts, res.Without)
		}
	}
	return parts
}

func things(n int) string {
	switch n {
	case 0:
		return "nothing"
	case 1:
		return "one thing"
	}
	return fmt.Sprintf("%d things", n)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// WriteText prints the report for a person.
func (r *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	for _, res := range r.Results {
		fmt.Fprintf(&b, "%-4s  %s: %s\n", res.Level, res.Topic, indent(res.Says, "      "))
		if res.Do != "" {
			fmt.Fprintf(&b, "      -> %s\n", indent(res.Do, "         "))
		}
	}
	fmt.Fprintf(&b, "\n%s\n", capital(r.Summary()))
	_, err := io.WriteString(w, b.String())
	return err
}

// indent sets the further lines of a text under its first.
func indent(text, by string) string {
	return strings.ReplaceAll(strings.TrimRight(text, "\n"), "\n", "\n"+by)
}

// WriteJSON prints the report for a program: one object.
func (r *Report) WriteJSON(w io.Writer) error {
	out := struct {
		OK      bool     `json:"ok"`
		Pass    int      `json:"pass"`
		Warn    int      `json:"warn"`
		Fail    int      `json:"fail"`
		Results []Result `json:"results"`
	}{r.OK(), r.Count(Pass), r.Count(Warn), r.Count(Fail), r.Results}
	if out.Results == nil {
		out.Results = []Result{}
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(out)
}
