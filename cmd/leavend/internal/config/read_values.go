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
func value[T any](s *section, key string, dst *T, wanted string, parse func(*node) (T, bool)) bool {
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
func values[T any](s *section, key string, dst *[]T, wanted string, parse func(item *node, before []T) (T, bool)) {
	var items []*node
	if !value(s, key, &items, "a list in square brackets"+wanted, (*node).list) {
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
	if !value(s, key, &got, "text in quotes", (*node).string) {
		return
	}
	if strings.ContainsFunc(got, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		s.wrong(key, "%s holds a control character; use plain text", s.table.fields[key].quoted())
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
	if value(s, key, &got, "one of "+list(choices), (*node).string) && s.among(key, got, words(choices)) {
		*dst = T(got)
	}
}

// among reports whether a word is one of a few, and says so where it is none.
func (s *section) among(key, word string, choices []string) bool {
	ok := slices.Contains(choices, word)
	if !ok {
		s.wrong(key, "%q is not one of %s%s", word, list(choices), didYouMean(word, choices))
	}
	return ok
}

// wordList reads a list of words out of a few.
func wordList[T ~string](s *section, key string, dst *[]T, choices ...T) {
	values(s, key, dst, " of "+list(choices), func(item *node, before []T) (T, bool) {
		switch {
		case item.shape != isText:
			s.wanted(key, item, "one of "+list(choices))
		case slices.Contains(before, T(item.text)):
			s.wrong(key, "%q stands twice", item.text)
		default:
			return T(item.text), s.among(key, item.text, words(choices))
		}
		return "", false
	})
}

// texts reads a list of texts.
func (s *section) texts(key string, dst *[]string) {
	values(s, key, dst, "", func(item *node, _ []string) (string, bool) {
		ok := item.shape == isText && item.text != ""
		if !ok {
			s.wanted(key, item, "text in quotes")
		}
		return item.text, ok
	})
}

// flag reads true or false.
func (s *section) flag(key string, dst *bool) {
	value(s, key, dst, "true or false, without quotes,", (*node).flag)
}

// limits is the allowed range of a number, both ends included, and why it
// ends there.
type limits struct {
	low, high float64
	unit      string // with a leading space where one belongs
	why       string
	spell     func(float64) string // plain if nil
}

// within reports a value outside its limits.
func (s *section) within(key string, v float64, l limits) bool {
	side, limit := "above", l.high
	if v < l.low {
		side, limit = "below", l.low
	}
	if v >= l.low && v <= l.high {
		return true
	}
	spell, why := l.spell, ""
	if spell == nil {
		spell = plain
	}
	if l.why != "" {
		why = "; " + l.why
	}
	given := s.table.fields[key].quoted()
	if s.table.fields[key].shape == isText && l.unit != "" {
		given = fmt.Sprintf("%s (%.1f%s)", given, v, l.unit)
	}
	s.wrong(key, "%s is %s the limit %s%s (allowed: %s to %s)%s", given, side, spell(limit), l.unit, spell(l.low), spell(l.high), why)
	return false
}

// whole reads an integer.
func (s *section) whole(key string, dst *int, low, high int) {
	s.wholeWithin(key, dst, limits{low: float64(low), high: float64(high)})
}

func (s *section) wholeWithin(key string, dst *int, l limits) {
	v := 0
	if value(s, key, &v, fmt.Sprintf("a whole number from %.0f to %.0f", l.low, l.high), (*node).whole) && s.within(key, float64(v), l) {
		*dst = v
	}
}

// number reads a number without unit.
func (s *section) number(key string, dst *float64, l limits) {
	s.quantity(key, dst, l, "a number", (*node).number)
}

// temperature reads a temperature in degrees Celsius, or text with its unit.
func (s *section) temperature(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, `a temperature such as 26 or "79F"`, func(n *node) (float64, bool) { return n.celsius(false) })
}

// degrees reads a difference of two temperatures.
func (s *section) degrees(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, `a number of degrees such as 0.3 or "0.5F"`, func(n *node) (float64, bool) { return n.celsius(true) })
}

// length reads a length in millimetres, or text with its unit.
func (s *section) length(key string, dst *float64, l limits) {
	l.unit = " mm"
	s.quantity(key, dst, l, `a length such as 165 or "6.5in"`, (*node).millimetres)
}

func (s *section) quantity(key string, dst *float64, l limits, wanted string, parse func(*node) (float64, bool)) {
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
func (s *section) span(key string, dst *time.Duration, low, high time.Duration, why string) {
	d := time.Duration(0)
	l := limits{low: float64(low), high: float64(high), why: why, spell: func(v float64) string { return text.Spell(time.Duration(v)) }}
	if value(s, key, &d, `a duration in quotes such as "90s", "5m" or "1h30m"`, (*node).duration) && s.within(key, float64(d), l) {
		*dst = d
	}
}

// clock reads a time of day.
func (s *section) clock(key string, dst *ClockTime) {
	value(s, key, dst, `a time of day such as "22:30"`, (*node).clockTime)
}
