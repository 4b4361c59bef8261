package text

import (
	"errors"
	"strings"
)

// Error is an error that a baker reads. As text it is English, for logs.
type Error struct {
	Say   Message
	cause error
}

// Fail returns an error that says the sentence of a key. Its cause is the one that Cause
// names among the values.
func Fail(key string, args ...Arg) error {
	e := &Error{Say: Say(key, args...)}
	for _, a := range args {
		if a.cause != nil {
			e.cause = a.cause
		}
	}
	return e
}

func (e *Error) Error() string { return e.Say.In(Reader{}) }

// Unwrap returns the cause; nil where there is none.
func (e *Error) Unwrap() error { return e.cause }

// Explain returns the sentence.
func (e *Error) Explain() Message { return e.Say }

// Explain returns what a baker reads of an error: the sentence of one that has one,
// within whatever was written around it.
func Explain(err error) Message {
	if e, ok := err.(interface{ Explain() Message }); ok {
		return e.Explain()
	}
	rest, all := err.Error(), []Message(nil)
	for _, inner := range causes(err) {
		before, after, found := strings.Cut(rest, inner.Error())
		if found {
			all, rest = append(all, Literal(before), Explain(inner)), after
		}
	}
	if len(all) == 0 {
		return Literal(rest)
	}
	return Parts(append(all, Literal(rest))...)
}

// Parts are sentences and literal text, one right behind the other.
func Parts(all ...Message) Message { return Say("explained.parts", List("all", all)) }

// Literal is text that is the same in every language.
func Literal(s string) Message { return Say("explained.literal", Name("text", s)) }

// causes are the errors that one wraps.
func causes(err error) []error {
	if e, ok := err.(interface{ Unwrap() []error }); ok {
		return e.Unwrap()
	}
	if inner := errors.Unwrap(err); inner != nil {
		return []error{inner}
	}
	return nil
}
