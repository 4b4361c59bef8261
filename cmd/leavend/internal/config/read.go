package config

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// reader walks the tree of one file and fills a Config. It never stops at a
// problem: it notes it, keeps the default, and reads on.
type reader struct {
	problems []Problem
	lines    map[string]int      // the line of each key that was given
	known    map[string][]string // section -> the keys it may have, for hints
	warnings []Problem
	broken   bool                // some lines could not be read, so what is missing may be there
	keys     map[string][]string // what schema says, once it was asked
	dir      string              // the folder of the file, for relative paths
}

// section reads the keys of one table. Each method names a key, says what it
// may hold and where it goes; the value stays as it was if the key is absent
// or wrong.
type section struct {
	r     *reader
	path  string // how the section is called in messages, "vessel[Bramble]"
	name  string // its name in the file, "vessel"
	table *node
	own   []string // the keys it may have, as far as they were asked for
}

// section enters the table [name] below s. An absent one reads as empty.
func (s *section) section(name string) *section {
	n := s.take(name)
	sub := &section{r: s.r, path: s.key(name), name: s.full(name), table: newTable(s.table.line)}
	switch {
	case n == nil:
	case n.shape == isTable:
		sub.table = n
	case n.shape == isTables:
		s.wrong(name, "there is only one; write [%s] with single brackets", sub.name)
	default:
		s.wanted(name, n, "a table, ["+sub.name+"] on a line of its own,")
	}
	return sub
}

// sections enters each table of [[name]]. Messages call it by its name, or
// by its number where it has none.
func (s *section) sections(name string) []*section {
	n := s.take(name)
	if n == nil {
		return nil
	}
	items := n.items
	if n.shape == isTable {
		s.wrong(name, "there may be several; write [[%s]] with double brackets", s.full(name))
		items = []*node{n}
	}
	var subs []*section
	for i, item := range items {
		if i == maxTables {
			s.wrong(name, "there are more than %d; the rest was not read", maxTables)
			break
		}
		if item.shape != isTable {
			s.wanted(name, item, "a table, [["+s.full(name)+"]] on a line of its own,")
			continue
		}
		tag := fmt.Sprint(i + 1)
		if own := item.fields["name"]; own != nil && own.shape == isText && own.text != "" {
			tag = own.text
		}
		subs = append(subs, &section{r: s.r, path: s.key(name) + "[" + tag + "]", name: s.full(name), table: item})
	}
	if n.shape != isTables && n.shape != isTable && n.shape != isList {
		s.wanted(name, n, "a table, [["+s.full(name)+"]] on a line of its own,")
	}
	return subs
}

// maxTables bounds how many tables of one kind are read. A kitchen has a few;
// the bound keeps a runaway file from keeping the daemon busy.
const maxTables = 2000

// take notes that the section may have this key and returns its value.
func (s *section) take(key string) *node {
	if !slices.Contains(s.own, key) {
		s.own = append(s.own, key)
	}
	if !slices.Contains(s.r.known[s.name], key) {
		s.r.known[s.name] = append(s.r.known[s.name], key)
	}
	n := s.table.fields[key]
	if n != nil {
		s.r.lines[s.key(key)] = n.line
	}
	return n
}

// key returns the full key, as it stands in messages.
func (s *section) key(key string) string {
	if s.path == "" {
		return key
	}
	return s.path + "." + key
}

// full returns the name of a table below this one, as it stands in the file.
func (s *section) full(name string) string {
	if s.name == "" {
		return name
	}
	return s.name + "." + name
}

// wrong notes a problem with a key of this section, on the key's line, or on
// the section's where the key is absent.
func (s *section) wrong(key, format string, args ...any) {
	line := s.table.line
	if n := s.table.fields[key]; n != nil {
		line = n.line
	}
	s.r.problems = append(s.r.problems, Problem{Line: line, Key: s.key(key), Text: fmt.Sprintf(format, args...)})
}

// missing notes that a key must be given. It keeps quiet when a line of the
// file could not be read: the key may stand there.
func (s *section) missing(key, format string, args ...any) {
	if !s.r.broken {
		s.wrong(key, format, args...)
	}
}

// wanted notes a value of the wrong kind.
func (s *section) wanted(key string, n *node, what string) {
	if n.quoted() == n.shape.String() {
		s.wrong(key, "is %s; %s is wanted", n.shape, what)
		return
	}
	s.wrong(key, "%s is %s; %s is wanted", n.quoted(), n.shape, what)
}

// need notes that a key must be given where that is not so.
func (s *section) need(ok bool, key, format string, args ...any) {
	if !ok {
		s.missing(key, format, args...)
	}
}

// together demands that two keys are given both, or neither.
func (s *section) together(a, b string) {
	s.need(s.given(a) == s.given(b), a, "%s and %s must be given together", a, b)
}

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
	l := limits{low: float64(low), high: float64(high), why: why, spell: func(v float64) string { return short(time.Duration(v)) }}
	if value(s, key, &d, `a duration in quotes such as "90s", "5m" or "1h30m"`, (*node).duration) && s.within(key, float64(d), l) {
		*dst = d
	}
}

// clock reads a time of day.
func (s *section) clock(key string, dst *ClockTime) {
	value(s, key, dst, `a time of day such as "22:30"`, (*node).clockTime)
}

// given reports whether the file has the key.
func (s *section) given(key string) bool { return s.table.fields[key] != nil }

// done reports the keys that were not asked for.
func (s *section) done() {
	for _, key := range s.table.keys {
		if slices.Contains(s.own, key) {
			continue
		}
		if n := s.table.fields[key]; n.dotted != "" && s.name != "" && s.r.schema()[key] != nil {
			_, inner, _ := strings.Cut(n.dotted, ".")
			s.wrong(key, "there is no such key here, for this line stands below [%s]; write %s below [%s] instead", s.name, inner, key)
			continue
		}
		s.wrong(key, "there is no such key here%s", s.hint(key, s.own))
	}
}

// hint says what may have been meant by an unknown key: one spelt much like
// it, or the section where it belongs.
func (s *section) hint(key string, known []string) string {
	if len(s.r.problems) > mostPrinted {
		return "" // Error prints no more, and each hint takes a while to find
	}
	if like := didYouMean(key, known); like != "" {
		return like
	}
	var homes []string
	for name, keys := range s.r.schema() {
		if name != s.name && slices.Contains(keys, key) {
			homes = append(homes, home(name))
		}
	}
	if len(homes) > 0 {
		slices.Sort(homes)
		return "; it belongs " + strings.Join(homes, " or ")
	}
	return "; see 'leavend config' for all keys"
}

// home says where a section is, for hints.
func home(name string) string {
	switch name {
	case "":
		return "at the top of the file, above the first [section]"
	case "sensor", "vessel", "notify", "mat.schedule", "plan.away", "plan.flour", "plan.recipe", "plan.recipe.flour", "plan.recipe.stage":
		return "in [[" + name + "]]"
	}
	return "in [" + name + "]"
}
