// Package prompt asks questions on a terminal.
package prompt

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// Terminal is a conversation on the terminal.
type Terminal struct {
	in   *bufio.Reader
	out  io.Writer
	file *os.File // behind in; nil where there is none
}

// New returns a conversation.
func New(in io.Reader, out io.Writer) *Terminal {
	return &Terminal{bufio.NewReader(in), out, asFile(in)}
}

// Say prints a line. An error would have nowhere to go: the terminal is gone.
func (t *Terminal) Say(format string, args ...any) { fmt.Fprintf(t.out, format+"\n", args...) }

// errUnanswered is the error of a question without a terminal.
var errUnanswered = errors.New("no terminal to ask at; see --empty, --level and --yes")

// Ask asks and returns what was typed, without space around it. It does not
// wait for an answer when ctx has ended: Ctrl-C works at a question too.
func (t *Terminal) Ask(ctx context.Context, format string, args ...any) (string, error) {
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
			t.Say("") // the question's line is still open
			return "", errUnanswered
		}
		return strings.TrimSpace(a.line), nil
	}
}

// Yes asks on the terminal. Only "yes" is yes.
func Yes(in io.Reader, out io.Writer, question string) bool {
	fmt.Fprint(out, question)
	line, err := bufio.NewReader(in).ReadString('\n')
	return (err == nil || errors.Is(err, io.EOF)) && strings.TrimSpace(line) == "yes"
}
