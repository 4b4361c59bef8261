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
	sub := &section{r: s.r, path: s.key(name), name: s.full(name), table: newTable(s.line())}
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

// line returns the line the section starts on.
func (s *section) line() int { return s.table.line }

// wrong notes a problem with a key of this section, on the key's line, or on
// the section's where the key is absent.
func (s *section) wrong(key, format string, args ...any) {
	line := s.line()
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

// text reads any text without control characters.
func (s *section) text(key string, dst *string) {
	n := s.take(key)
	if n == nil {
		return
	}
	if n.shape != isText {
		s.wanted(key, n, `text in quotes`)
		return
	}
	if strings.ContainsFunc(n.text, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		s.wrong(key, "%s holds a control character; use plain text", n.quoted())
		return
	}
	*dst = n.text
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

// word reads one of a few words. It is a function and not a method because
// each set of words has a type of its own.
func word[T ~string](s *section, key string, dst *T, choices ...T) {
	n := s.take(key)
	if n == nil {
		return
	}
	if n.shape != isText {
		s.wanted(key, n, "one of "+list(choices))
		return
	}
	if !slices.Contains(choices, T(n.text)) {
		s.wrong(key, "%q is not one of %s%s", n.text, list(choices), didYouMean(n.text, words(choices)))
		return
	}
	*dst = T(n.text)
}

// wordList reads a list of words out of a few.
func wordList[T ~string](s *section, key string, dst *[]T, choices ...T) {
	n := s.take(key)
	if n == nil {
		return
	}
	if n.shape != isList {
		s.wanted(key, n, "a list in square brackets of "+list(choices))
		return
	}
	got := []T{}
	for _, item := range n.items {
		switch {
		case item.shape != isText:
			s.wanted(key, item, "one of "+list(choices))
		case !slices.Contains(choices, T(item.text)):
			s.wrong(key, "%q is not one of %s%s", item.text, list(choices), didYouMean(item.text, words(choices)))
		case slices.Contains(got, T(item.text)):
			s.wrong(key, "%q stands twice", item.text)
		default:
			got = append(got, T(item.text))
		}
	}
	*dst = got
}

// texts reads a list of texts.
func (s *section) texts(key string, dst *[]string) {
	n := s.take(key)
	if n == nil {
		return
	}
	if n.shape != isList {
		s.wanted(key, n, "a list of texts in square brackets")
		return
	}
	got := []string{}
	for _, item := range n.items {
		if item.shape != isText || item.text == "" {
			s.wanted(key, item, "text in quotes")
			continue
		}
		got = append(got, item.text)
	}
	*dst = got
}

// flag reads true or false.
func (s *section) flag(key string, dst *bool) {
	n := s.take(key)
	if n == nil {
		return
	}
	if n.shape != isFlag {
		s.wanted(key, n, "true or false, without quotes,")
		return
	}
	*dst = n.text == "true"
}

// limits is the allowed range of a number, both ends included, and why it
// ends there.
type limits struct {
	low, high float64
	unit      string // with a leading space where one belongs
	why       string
}

// within reports a value outside its limits.
func (s *section) within(key string, v float64, given string, l limits) bool {
	side, limit := "above", l.high
	if v < l.low {
		side, limit = "below", l.low
	}
	if v >= l.low && v <= l.high {
		return true
	}
	why := ""
	if l.why != "" {
		why = "; " + l.why
	}
	s.wrong(key, "%s is %s the limit %s%s (allowed: %s to %s)%s",
		given, side, plain(limit), l.unit, plain(l.low), plain(l.high), why)
	return false
}

// whole reads an integer.
func (s *section) whole(key string, dst *int, low, high int) {
	n := s.take(key)
	if n == nil {
		return
	}
	v, ok := n.whole()
	if !ok {
		s.wanted(key, n, fmt.Sprintf("a whole number from %d to %d", low, high))
		return
	}
	if s.within(key, float64(v), n.quoted(), limits{low: float64(low), high: float64(high)}) {
		*dst = v
	}
}

// number reads a number without unit.
func (s *section) number(key string, dst *float64, l limits) {
	s.quantity(key, dst, l, (*node).number, "a number")
}

// temperature reads a temperature in degrees Celsius, or text with its unit.
func (s *section) temperature(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, func(n *node) (float64, bool) { return n.celsius(false) }, `a temperature such as 26 or "79F"`)
}

// degrees reads a difference of two temperatures.
func (s *section) degrees(key string, dst *float64, l limits) {
	l.unit = " °C"
	s.quantity(key, dst, l, func(n *node) (float64, bool) { return n.celsius(true) }, `a number of degrees such as 0.3 or "0.5F"`)
}

// length reads a length in millimetres, or text with its unit.
func (s *section) length(key string, dst *float64, l limits) {
	l.unit = " mm"
	s.quantity(key, dst, l, (*node).millimetres, `a length such as 165 or "6.5in"`)
}

func (s *section) quantity(key string, dst *float64, l limits, read func(*node) (float64, bool), what string) {
	n := s.take(key)
	if n == nil {
		return
	}
	v, ok := read(n)
	if !ok || v != v {
		s.wanted(key, n, what)
		return
	}
	given := n.quoted()
	if n.shape == isText {
		given = fmt.Sprintf("%q (%.1f%s)", n.text, v, l.unit)
	}
	if s.within(key, v, given, l) {
		*dst = v
	}
}

// span reads a duration such as "90s".
func (s *section) span(key string, dst *time.Duration, low, high time.Duration, why string) {
	n := s.take(key)
	if n == nil {
		return
	}
	d, ok := n.duration()
	if !ok {
		s.wanted(key, n, `a duration in quotes such as "90s", "5m" or "1h30m"`)
		return
	}
	if why != "" {
		why = "; " + why
	}
	switch {
	case d < low:
		s.wrong(key, "%s is below the limit %s (allowed: %s to %s)%s", n.quoted(), short(low), short(low), short(high), why)
	case d > high:
		s.wrong(key, "%s is above the limit %s (allowed: %s to %s)%s", n.quoted(), short(high), short(low), short(high), why)
	default:
		*dst = d
	}
}

// clock reads a time of day.
func (s *section) clock(key string, dst *ClockTime) {
	n := s.take(key)
	if n == nil {
		return
	}
	t, ok := n.clockTime()
	if !ok {
		s.wanted(key, n, `a time of day such as "22:30"`)
		return
	}
	*dst = t
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
