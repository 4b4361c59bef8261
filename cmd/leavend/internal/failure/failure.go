// Package failure holds the errors on which a caller decides what to do: wrong
// usage, which ends a command with its own exit code, and refusals, which are
// the answer to a request that was understood and will not be met.
package failure

import (
	"errors"

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
	Why  string       // a sentence for the baker
	Say  text.Message // the same for a reader of any language; Why is then left out
}

func (r *Refusal) Error() string {
	if !r.Say.IsZero() {
		return r.Say.In(text.Reader{})
	}
	return r.Why
}

// Explain is what a baker reads of it.
func (r *Refusal) Explain() text.Message {
	if r.Say.IsZero() {
		return text.Literal(r.Why)
	}
	return r.Say
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
