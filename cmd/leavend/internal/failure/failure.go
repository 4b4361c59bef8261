// Package failure holds the errors on which a caller decides what to do: wrong
// usage, which ends a command with its own exit code, and refusals, which are
// the answer to a request that was understood and will not be met.
package failure

import (
	"errors"
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// Exit codes of the program. They are a contract with scripts and systemd.
const (
	Done   = 0 // the command did what was asked
	Failed = 1 // it tried and failed
	Usage  = 2 // wrong usage or configuration; nothing was switched on
)

// ErrUnknown is the answer to a request about something that does not exist.
var ErrUnknown = errors.New("not known here")

// ErrFull says that the disk has no room. Nothing of the call was stored.
var ErrFull = errors.New("the disk is full")

// ErrSaid ends a command that has already said what is wrong.
var ErrSaid = errors.New("it has been said what is wrong")

// Refusal is the answer to a change that was understood and will not be made,
// such as clearing a cutoff whose cause still holds.
type Refusal struct {
	Code string       // one word for programs, such as "holds"
	Say  text.Message // a sentence for the baker; where it says nothing, that of the code
}

func (r *Refusal) Error() string { return r.Explain().In(text.Reader{}) }

// Explain is what a baker reads of it.
func (r *Refusal) Explain() text.Message {
	if r.Say.IsZero() {
		return OfCode(r.Code)
	}
	return r.Say
}

// OfCode is the sentence of a refusal's code; it says nothing where there is none.
func OfCode(code string) text.Message {
	if key := "error." + strings.ReplaceAll(code, "-", "_"); text.Has(key) {
		return text.Say(key)
	}
	return text.Message{}
}

// misuse is an error about usage or configuration.
type misuse struct{ error }

func (m misuse) Unwrap() error { return m.error }

// Misuse marks err as wrong usage or configuration; nil stays nil.
func Misuse(err error) error {
	if err == nil {
		return nil
	}
	return misuse{err}
}

// Code returns the exit code that an error ends a command with.
func Code(err error) int {
	var m misuse
	switch {
	case err == nil:
		return Done
	case errors.As(err, &m):
		return Usage
	}
	return Failed
}
