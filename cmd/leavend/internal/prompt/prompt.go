// Package prompt asks questions on a terminal.
package prompt

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// Terminal is a conversation on the terminal.
type Terminal struct {
	in   *bufio.Reader
	out  io.Writer
	file *os.File // behind in; nil where there is none
	to   text.Reader
}

// New returns a conversation with a person, in his words.
func New(in io.Reader, out io.Writer, to text.Reader) *Terminal {
	return &Terminal{bufio.NewReader(in), out, asFile(in), to}
}

// Print prints a line as it is. An error would have nowhere to go: the terminal is gone.
func (t *Terminal) Print(line string) { fmt.Fprintln(t.out, line) }

// Tell prints a message.
func (t *Terminal) Tell(m text.Message) { t.Print(text.Wrap(m.In(t.to))) }

// Say prints the sentence of a key.
func (t *Terminal) Say(key string, args ...text.Arg) { t.Tell(text.Say(key, args...)) }

// question prints one, behind which the answer is typed.
func (t *Terminal) question(key string, args []text.Arg) {
	fmt.Fprint(t.out, text.Wrap(text.Say(key, args...).In(t.to))+" ")
}

// errUnanswered is the error of a question without a terminal.
var errUnanswered = text.Fail("cli.unanswered")

// Ask asks the question of a key and returns what was typed, without space around it. It does not
// wait for an answer when ctx has ended: Ctrl-C works at a question too.
func (t *Terminal) Ask(ctx context.Context, key string, args ...text.Arg) (string, error) {
	t.question(key, args)
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
			t.Print("") // the question's line is still open
			return "", errUnanswered
		}
		return strings.TrimSpace(a.line), nil
	}
}

// Confirm asks the question of a key. Its error is nil for "yes" alone.
func (t *Terminal) Confirm(ctx context.Context, key string, args ...text.Arg) error {
	said, err := t.Ask(ctx, key, args...)
	if err == nil && said != "yes" {
		err = text.Fail("cli.declined")
	}
	return err
}
