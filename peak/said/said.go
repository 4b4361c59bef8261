// Package said holds sentences whose numbers are still values, so that each
// reader has them in the clock and the units of his own.
//
//	line := said.Say("The top comes at about %v, on the mat at %v.", said.Clock(top), said.Degrees(24))
//	line.In(said.Form{Zone: oslo})                          // ... at about 14:20, on the mat at 24 °C.
//	line.In(said.Form{Zone: oslo, Hours12: true, US: true}) // ... at about 2:20 pm, on the mat at 75 °F.
//
// As JSON a line is a list of texts and values, which a page writes as the baker
// chose there.
package said

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Line is one sentence, or several.
type Line []Piece

// Piece is a stretch of text or one value.
type Piece struct {
	text   string
	what   kind
	at     time.Time
	from   time.Time
	number float64
	digits int
}

type kind uint8

const (
	plain kind = iota
	moment
	date
	degrees
	grams
)

// Clock is a time of day.
func Clock(t time.Time) Piece { return Piece{what: moment, at: t} }

// Near is a time of day, with its day of the week where that is not the one of from.
func Near(t, from time.Time) Piece { return Piece{what: moment, at: t, from: from} }

// On is a date.
func On(t time.Time) Piece { return Piece{what: date, at: t} }

// Degrees is a warmth in °C, written as short as it goes.
func Degrees(c float64) Piece { return Piece{what: degrees, number: c} }

// Tenths is a warmth in °C, always written to a tenth of a degree.
func Tenths(c float64) Piece { return Piece{what: degrees, number: c, digits: 1} }

// Grams is a weight.
func Grams(g float64) Piece { return Piece{what: grams, number: g} }

// Say makes a line: each %v of the format stands for one value, which is a
// Piece, a Line, or anything that is written the same for everybody. There is
// no other verb, and no percent sign.
func Say(format string, values ...any) Line {
	var out Line
	for i, text := range strings.Split(format, "%v") {
		if i > 0 && i <= len(values) {
			switch v := values[i-1].(type) {
			case Piece:
				out = append(out, v)
			case Line:
				out = append(out, v...)
			default:
				out = append(out, Piece{text: fmt.Sprint(v)})
			}
		}
		out = append(out, Piece{text: text})
	}
	return out.tidy()
}

// tidy joins texts that follow one another.
func (l Line) tidy() Line {
	out := make(Line, 0, len(l))
	for _, p := range l {
		switch last := len(out) - 1; {
		case p.what == plain && p.text == "":
		case p.what == plain && last >= 0 && out[last].what == plain:
			out[last].text += p.text
		default:
			out = append(out, p)
		}
	}
	return out
}

// And is the line with more behind it.
func (l Line) And(more ...Line) Line {
	out := append(Line(nil), l...)
	for _, m := range more {
		out = append(out, m...)
	}
	return out.tidy()
}

// Capital is the line with a capital in front.
func (l Line) Capital() Line {
	out := append(Line(nil), l...)
	if len(out) > 0 && out[0].what == plain {
		out[0].text = strings.ToUpper(out[0].text[:1]) + out[0].text[1:]
	}
	return out
}

// In writes the line in a form.
func (l Line) In(f Form) string {
	var b strings.Builder
	for _, p := range l {
		switch p.what {
		case moment:
			b.WriteString(f.Near(p.at, p.from))
		case date:
			b.WriteString(f.Day(p.at))
		case degrees:
			b.WriteString(f.degrees(p.number, p.digits))
		case grams:
			b.WriteString(f.Grams(p.number))
		default:
			b.WriteString(p.text)
		}
	}
	return b.String()
}

// value is a piece as JSON, where it is not a text.
type value struct {
	At     time.Time `json:"at,omitzero"`
	Day    time.Time `json:"day,omitzero"`
	From   time.Time `json:"from,omitzero"`
	C      *float64  `json:"c,omitempty"`
	Digits int       `json:"digits,omitempty"`
	G      *float64  `json:"g,omitempty"`
}

// MarshalJSON writes a text as a string and a value as an object.
func (p Piece) MarshalJSON() ([]byte, error) {
	switch p.what {
	case moment:
		return json.Marshal(value{At: p.at, From: p.from})
	case date:
		return json.Marshal(value{Day: p.at})
	case degrees:
		return json.Marshal(value{C: &p.number, Digits: p.digits})
	case grams:
		return json.Marshal(value{G: &p.number})
	}
	return json.Marshal(p.text)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (p *Piece) UnmarshalJSON(b []byte) error {
	if len(b) > 0 && b[0] == '"' {
		*p = Piece{}
		return json.Unmarshal(b, &p.text)
	}
	var v value
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	switch {
	case v.C != nil:
		*p = Piece{what: degrees, number: *v.C, digits: v.Digits}
	case v.G != nil:
		*p = Piece{what: grams, number: *v.G}
	case !v.Day.IsZero():
		*p = Piece{what: date, at: v.Day}
	case !v.At.IsZero():
		*p = Piece{what: moment, at: v.At, from: v.From}
	default:
		return fmt.Errorf("a piece of a sentence without a value: %.80s", b)
	}
	return nil
}
