package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// talk is a conversation on the terminal.
type talk struct {
	in  *bufio.Reader
	out io.Writer
}

// newTalk returns a conversation.
func newTalk(in io.Reader, out io.Writer) *talk { return &talk{bufio.NewReader(in), out} }

// say prints a line. Nobody can be told that the terminal is gone.
func (t *talk) say(format string, args ...any) { fmt.Fprintf(t.out, format+"\n", args...) }

// errUnanswered is the error of a question that nobody can answer.
var errUnanswered = errors.New("there is nobody to ask; see --empty, --level and --yes")

// ask asks and returns what was typed, without space around it. It does not
// wait for an answer when ctx has ended: Ctrl-C works at a question too.
func (t *talk) ask(ctx context.Context, format string, args ...any) (string, error) {
	fmt.Fprintf(t.out, format, args...)
	type answer struct {
		line string
		err  error
	}
	typed := make(chan answer, 1)
	go func() {
		line, err := t.in.ReadString('\n')
		typed <- answer{line, err}
	}()
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case a := <-typed:
		if a.err != nil && a.line == "" {
			t.say("") // the question's line is still open
			return "", errUnanswered
		}
		return strings.TrimSpace(a.line), nil
	}
}

// length asks for a length until one is typed that can be; ok is false for a
// bare Enter.
func (t *talk) length(ctx context.Context, low, high float64, format string, args ...any) (mm float64, ok bool, err error) {
	for {
		typed, err := t.ask(ctx, format, args...)
		if err != nil || typed == "" {
			return 0, false, err
		}
		if mm, err = parseMM("that will not do", typed, low, high); err == nil {
			return mm, true, nil
		}
		t.say("  %s", text.Capital(err.Error()))
	}
}

// parseMM reads a length: a number of mm, or one with mm, cm or in behind it.
func parseMM(name, text string, low, high float64) (float64, error) {
	number, scale := strings.ToLower(strings.TrimSpace(text)), 1.0
	for unit, mm := range map[string]float64{"mm": 1, "cm": 10, "in": 25.4, `"`: 25.4} {
		if rest, ok := strings.CutSuffix(number, unit); ok {
			number, scale = strings.TrimSpace(rest), mm
			break
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	v *= scale
	switch {
	case err != nil || v != v:
		return 0, fmt.Errorf("%s: %q is no length; type it as 60, 6cm or 2.5in", name, text)
	case v < low || v > high:
		return 0, fmt.Errorf("%s: %s is not within %g to %g mm", name, text, low, high)
	}
	return v, nil
}

// show returns a length in the units that people are shown.
func (c *calibration) show(mm float64) string {
	if c.conf.Units == config.US {
		return fmt.Sprintf("%.2f in", mm/25.4)
	}
	return fmt.Sprintf("%.1f mm", mm)
}
