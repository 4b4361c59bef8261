package config

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// value reads one key: parse tells false for what is not wanted. It is a function
// and not a method because each kind of value has a type of its own.
func value[T any](s *section, key string, dst *T, wanted text.Message, parse func(*node) (T, bool)) bool {
	n := s.take(key)
	if n == nil {
		return false
	}
	v, ok := parse(n)
	if !ok {
		s.wanted(key, n, wanted)
		return false
	}
	*dst = v
	return true
}

// values reads a list. An item that parse refuses, which has then said why, is
// left out.
func values[T any](s *section, key string, dst *[]T, wanted text.Message, parse func(item *node, before []T) (T, bool)) {
	var items []*node
	if !value(s, key, &items, wanted, (*node).list) {
		return
	}
	got := []T{}
	for _, item := range items {
		if v, ok := parse(item, got); ok {
			got = append(got, v)
		}
	}
	*dst = got
}

// text reads any text without control characters.
func (s *section) text(key string, dst *string) {
	got := ""
	if !value(s, key, &got, text.Say("config.want.text"), (*node).string) {
		return
	}
	if strings.ContainsFunc(got, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		s.wrong(key, "config.control", text.Name("given", s.table.fields[key].quoted()))
		return
	}
	*dst = got
}

// file reads a path. A relative one starts at the folder of the config file,
// not where the daemon happens to be started.
func (s *section) file(key string, dst *string) {
	given := ""
	s.text(key, &given)
	if given != "" {
		*dst = s.r.rooted(given)
	}
}

// word reads one of a few words.
func word[T ~string](s *section, key string, dst *T, choices ...T) {
	got := ""
	if value(s, key, &got, text.Say("config.want.one_of", list(choices)), (*node).string) && s.among(key, got, words(choices)) {
		*dst = T(got)
	}
}

// among reports whether a word is one of a few, and says so where it is none.
func (s *section) among(key, word string, choices []string) bool {
	ok := slices.Contains(choices, word)
	if !ok {
		s.wrong(key, "config.not_one_of", text.Name("given", word), list(choices), text.Sub("hint", didYouMean(word, choices)))
	}
	return ok
}

// wordList reads a list of words out of a few.
func wordList[T ~string](s *section, key string, dst *[]T, choices ...T) {
	values(s, key, dst, text.Say("config.want.list_of", list(choices)), func(item *node, before []T) (T, bool) {
		switch {
		case item.shape != isText:
			s.wanted(key, item, text.Say("config.want.one_of", list(choices)))
		case slices.Contains(before, T(item.text)):
			s.wrong(key, "config.twice", text.Name("given", item.text))
		default:
			return T(item.text), s.among(key, item.text, words(choices))
		}
		return "", false
	})
}

// texts reads a list of texts.
func (s *section) texts(key string, dst *[]string) {
	values(s, key, dst, text.Say("config.want.list"), func(item *node, _ []string) (string, bool) {
		ok := item.shape == isText && item.text != ""
		if !ok {
			s.wanted(key, item, text.Say("config.want.text"))
		}
		return item.text, ok
	})
}

// flag reads true or false.
func (s *section) flag(key string, dst *bool) {
	value(s, key, dst, text.Say("config.want.flag"), (*node).flag)
}

// limits is the allowed range of a number, both ends included.
type limits struct {
	low, high float64
	unit      string               // with a leading space where one belongs
	spell     func(float64) string // plain if nil
}

// within reports a value outside its limits.
func (s *section) within(key string, v float64, l limits) bool {
	sentence, limit := "config.above", l.high
	if v < l.low {
		sentence, limit = "config.below", l.low
	}
	if v >= l.low && v <= l.high {
		return true
	}
	spell := l.spell
	if spell == nil {
		spell = plain
	}
	given := s.table.fields[key].quoted()
	if s.table.fields[key].shape == isText && l.unit != "" {
		given = fmt.Sprintf("%s (%.1f%s)", given, v, l.unit)
	}
	s.wrong(key, sentence, text.Name("given", given), text.Name("limit", spell(limit)+l.unit), text.Name("low", spell(l.low)), text.Name("high", spell(l.high)))
	return false
}

// whole reads an integer.
func (s *section) whole(key string, dst *int, low, high int) {
	v, l := 0, limits{low: float64(low), high: float64(high)}
	wanted := text.Say("config.want.whole", text.Number("low", l.low), text.Number("high", l.high))
	if value(s, key, &v, wanted, (*node).whole) && s.within(key, float64(v), l) {
		*dst = v
	}
}

// number reads a number without unit.
func (s *section) number(key string, dst *float64, l limits) {
	s.quantity(key, dst, l, text.Say("config.want.number"), (*node).number)
}

// temperature reads a temperature in degrees Celsius, or text with its unit.
func (s *section) temperature(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, text.Say("config.want.temperature"), func(n *node) (float64, bool) { return n.celsius(false) })
}

// degrees reads a difference of two temperatures.
func (s *section) degrees(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, text.Say("config.want.degrees"), func(n *node) (float64, bool) { return n.celsius(true) })
}

// length reads a length in millimetres, or text with its unit.
func (s *section) length(key string, dst *float64, l limits) {
	l.unit = " mm"
	s.quantity(key, dst, l, text.Say("config.want.length"), (*node).millimetres)
}

func (s *section) quantity(key string, dst *float64, l limits, wanted text.Message, parse func(*node) (float64, bool)) {
	v := 0.0
	read := value(s, key, &v, wanted, func(n *node) (float64, bool) {
		v, ok := parse(n)
		return v, ok && v == v
	})
	if read && s.within(key, v, l) {
		*dst = v
	}
}

// span reads a duration such as "90s".
func (s *section) span(key string, dst *time.Duration, low, high time.Duration) {
	d := time.Duration(0)
	l := limits{low: float64(low), high: float64(high), spell: func(v float64) string { return text.Spell(time.Duration(v)) }}
	if value(s, key, &d, text.Say("config.want.span"), (*node).duration) && s.within(key, float64(d), l) {
		*dst = d
	}
}

// clock reads a time of day.
func (s *section) clock(key string, dst *ClockTime) {
	value(s, key, dst, text.Say("config.want.clock"), (*node).clockTime)
}
