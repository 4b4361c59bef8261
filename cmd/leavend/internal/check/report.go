// Package check looks at the board that leavend is to run on and says, line
// by line, what is right, what is not, and the exact thing to do about it.
//
// It changes nothing. Everything it looks at lies below one root folder and
// behind a few functions, so that tests can show it any board.
package check

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/text"
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

// Result is the outcome of one check. Its sentences stand in the catalogue.
type Result struct {
	Topic string // what was looked at: "config", "sensor eye", "clock"
	Level Level
	Says  text.Message // what was found
	Do    text.Message // what to do about it, as exactly as can be; zero for nothing
	Line  int

	// Without is what of leavend is missing until a failure is repaired, such as
	// the page; sensors and mat run meanwhile. It is zero where they are what
	// does not work.
	Without text.Message
}

// found is a result by the key of what was found. What to do about it has the
// same key with _do at its end, where there is something to do.
func found(topic string, level Level, key string, args []text.Arg) Result {
	r := Result{Topic: topic, Level: level, Says: text.Say(key, args...)}
	if text.Has(key + "_do") {
		r.Do = text.Say(key+"_do", args...)
	}
	return r
}

func pass(topic, key string, args ...text.Arg) Result { return found(topic, Pass, key, args) }
func note(topic, key string, args ...text.Arg) Result { return found(topic, Note, key, args) }
func warn(topic, key string, args ...text.Arg) Result { return found(topic, Warn, key, args) }
func fail(topic, key string, args ...text.Arg) Result { return found(topic, Fail, key, args) }

// and is the result with what a second look adds.
func (r Result) and(more Result) Result {
	more.Says = text.Sentences(r.Says, more.Says)
	return more
}

// without names the part of leavend that is missing meanwhile.
func (r Result) without(part string) Result {
	r.Without = text.Say("check.part." + part)
	return r
}

// names are names that are the same in every language, with commas between them.
func names(name string, all []string) text.Arg { return text.Name(name, strings.Join(all, ", ")) }

// because is the cause of a failure, without the path, which the sentence has.
func because(err error) text.Arg {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return text.Cause("err", err)
}

// Heading is what a result is about, in the reader's language.
func (r Result) Heading(reader text.Reader) string {
	head, rest, _ := strings.Cut(r.Topic, " ")
	if whole := strings.ReplaceAll(r.Topic, " ", "_"); text.Has("check.topic." + whole) {
		head, rest = whole, ""
	}
	if !text.Has("check.topic." + head) {
		return r.Topic
	}
	return strings.TrimSpace(text.Say("check.topic."+head).In(reader) + " " + rest)
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

// Summary says in a few words how it came out.
func (r *Report) Summary() text.Message {
	fails, warns := r.Count(Fail), r.Count(Warn)
	if fails+warns == 0 {
		return text.Say("check.summary.well")
	}
	var counts []text.Message
	if fails > 0 {
		counts = append(counts, text.Say("check.level_count.repair", text.Count("n", fails)))
	}
	if warns > 0 {
		counts = append(counts, text.Say("check.level_count.look", text.Count("n", warns)))
	}
	var runs text.Message
	if without := r.without(); len(without) > 0 {
		runs = text.Say("check.summary.runs_without", text.List("parts", without))
	} else if fails == 0 {
		runs = text.Say("check.summary.runs")
	}
	return text.Sentences(runs, text.Say("check.summary.counts", text.List("counts", counts)))
}

// without returns what will be missing, if nothing worse failed.
func (r *Report) without() []text.Message {
	var parts []text.Message
	for _, res := range r.Results {
		switch {
		case res.Level != Fail, slices.ContainsFunc(parts, func(p text.Message) bool { return p.Key == res.Without.Key }):
		case res.Without.IsZero():
			return nil
		default:
			parts = append(parts, res.Without)
		}
	}
	return parts
}

// WriteText prints the report for a person.
func (r *Report) WriteText(w io.Writer, reader text.Reader) error {
	var b strings.Builder
	for _, res := range r.Results {
		fmt.Fprintf(&b, "%-4s  %s: %s\n", res.Level, res.Heading(reader), indent(res.Says.In(reader), "      "))
		if !res.Do.IsZero() {
			fmt.Fprintf(&b, "      -> %s\n", indent(res.Do.In(reader), "         "))
		}
	}
	fmt.Fprintf(&b, "\n%s\n", r.Summary().In(reader))
	_, err := io.WriteString(w, b.String())
	return err
}

// indent sets the further lines of a text under its first.
func indent(text, by string) string {
	return strings.ReplaceAll(strings.TrimRight(text, "\n"), "\n", "\n"+by)
}

// jsonResult is a result for a program, in English.
type jsonResult struct {
	Topic   string `json:"topic"`
	Level   Level  `json:"level"`
	Says    string `json:"says"`
	Do      string `json:"do,omitempty"`
	Line    int    `json:"line,omitempty"`
	Without string `json:"without,omitempty"`
}

// WriteJSON prints the report for a program: one object.
func (r *Report) WriteJSON(w io.Writer) error {
	out := struct {
		OK      bool         `json:"ok"`
		Pass    int          `json:"pass"`
		Warn    int          `json:"warn"`
		Fail    int          `json:"fail"`
		Results []jsonResult `json:"results"`
	}{r.OK(), r.Count(Pass), r.Count(Warn), r.Count(Fail), []jsonResult{}}
	var english text.Reader
	for _, res := range r.Results {
		out.Results = append(out.Results, jsonResult{res.Topic, res.Level, res.Says.In(english), res.Do.In(english), res.Line, res.Without.In(english)})
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(out)
}
