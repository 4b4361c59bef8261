// Package text holds every sentence that a baker reads: on the page, in
// messages, on the command line, in checks and in the reasons sent by MQTT.
//
// A sentence has a key and typed arguments. The words for it stand in one file
// a language (language/en.toml), and a value is written in the reader's own
// units, clock and language:
//
//	m := text.Say("mat.set_to", text.Temp("to", 24))
//	m.In(text.Reader{Language: "en"})                   // Set to 24.0 °C.
//	m.In(text.Reader{Language: "de", Fahrenheit: true}) // Auf 75,2 °F eingestellt.
//
// As JSON a message keeps its key and its values, so that the page can write
// it for its own reader. To add a language, copy a file and translate it; the
// tests say what is missing.
package text

import (
	"encoding/json"
	"fmt"
	"math"
	"time"
)

// Message is a sentence that is not put into words yet. The zero value says
// nothing.
type Message struct {
	Key  string         `json:"key"`
	Args map[string]any `json:"args,omitempty"`
}

// Arg is one named value of a message.
type Arg struct {
	name  string
	value any
	cause error
}

// Say makes a message.
func Say(key string, args ...Arg) Message {
	m := Message{Key: key}
	for _, a := range args {
		if m.Args == nil {
			m.Args = make(map[string]any, len(args))
		}
		m.Args[a.name] = a.value
	}
	return m
}

// IsZero reports whether the message says nothing.
func (m Message) IsZero() bool { return m.Key == "" }

// Time is a moment; the sentence decides whether it is written as a clock time,
// with its day, or as how long ago it was.
func Time(name string, t time.Time) Arg { return Arg{name: name, value: t} }

// Duration is a length of time.
func Duration(name string, d time.Duration) Arg { return Arg{name: name, value: d.Seconds()} }

// Temp is a temperature in °C, or a difference of two in K.
func Temp(name string, c float64) Arg { return Arg{name: name, value: real(c)} }

// Weight is a weight in grams.
func Weight(name string, g float64) Arg { return Arg{name: name, value: real(g)} }

// Length is a length in millimetres.
func Length(name string, mm float64) Arg { return Arg{name: name, value: real(mm)} }

// Size is the size of a file or of a disk, in bytes.
func Size(name string, bytes uint64) Arg { return Arg{name: name, value: float64(bytes)} }

// Ratio is a rise ratio: 2 is doubled.
func Ratio(name string, r float64) Arg { return Arg{name: name, value: real(r)} }

// Share is a share of one.
func Share(name string, s float64) Arg { return Arg{name: name, value: real(s)} }

// Number is a number without a unit.
func Number(name string, v float64) Arg { return Arg{name: name, value: real(v)} }

// Count is a number of things; it chooses among a sentence's plural forms.
func Count(name string, n int) Arg { return Arg{name: name, value: float64(n)} }

// Name is what is written the same in every language, such as a jar's name.
func Name(name, s string) Arg { return Arg{name: name, value: s} }

// Sub is a sentence, or a part of one, within another.
func Sub(name string, m Message) Arg { return Arg{name: name, value: m} }

// List is several of them; the language joins them with commas and "and".
func List(name string, all []Message) Arg { return Arg{name: name, value: all} }

// Cause is what a baker reads of an error, which stays findable in the one that Fail returns.
func Cause(name string, err error) Arg { return Arg{name, Explain(err), err} }

// real is a number that JSON can carry; what is not finite is not known.
func real(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// UnmarshalJSON reads what encoding/json wrote of a message, messages within it
// included.
func (m *Message) UnmarshalJSON(b []byte) error {
	var raw struct {
		Key  string                     `json:"key"`
		Args map[string]json.RawMessage `json:"args"`
	}
	if err := json.Unmarshal(b, &raw); err != nil {
		return fmt.Errorf("text: read a message: %w", err)
	}
	*m = Message{Key: raw.Key}
	for name, value := range raw.Args {
		v, err := readArg(value)
		if err != nil {
			return fmt.Errorf("text: read %s of %s: %w", name, raw.Key, err)
		}
		if m.Args == nil {
			m.Args = make(map[string]any, len(raw.Args))
		}
		m.Args[name] = v
	}
	return nil
}

func readArg(b []byte) (any, error) {
	switch {
	case len(b) > 0 && b[0] == '{':
		var m Message
		err := json.Unmarshal(b, &m)
		return m, err
	case len(b) > 0 && b[0] == '[':
		var all []Message
		err := json.Unmarshal(b, &all)
		return all, err
	}
	var v any
	err := json.Unmarshal(b, &v)
	return v, err
}
