package config

import (
	"fmt"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/text"
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
		s.wrong(name, "config.single", text.Name("name", sub.name))
	default:
		s.wanted(name, n, text.Say("config.want.table", text.Name("name", "["+sub.name+"]")))
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
	items, table := n.items, text.Say("config.want.table", text.Name("name", "[["+s.full(name)+"]]"))
	if n.shape == isTable {
		s.wrong(name, "config.several", text.Name("name", s.full(name)))
		items = []*node{n}
	}
	var subs []*section
	for i, item := range items {
		if i == maxTables {
			s.wrong(name, "config.many", text.Count("n", maxTables))
			break
		}
		if item.shape != isTable {
			s.wanted(name, item, table)
			continue
		}
		tag := fmt.Sprint(i + 1)
		if own := item.fields["name"]; own != nil && own.shape == isText && own.text != "" {
			tag = own.text
		}
		subs = append(subs, &section{r: s.r, path: s.key(name) + "[" + tag + "]", name: s.full(name), table: item})
	}
	if n.shape != isTables && n.shape != isTable && n.shape != isList {
		s.wanted(name, n, table)
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
func (s *section) wrong(key, sentence string, args ...text.Arg) {
	line := s.table.line
	if n := s.table.fields[key]; n != nil {
		line = n.line
	}
	s.r.problems = append(s.r.problems, Problem{Line: line, Key: s.key(key), Say: text.Say(sentence, args...)})
}

// missing notes that a key must be given. It keeps quiet when a line of the
// file could not be read: the key may stand there.
func (s *section) missing(key, sentence string, args ...text.Arg) {
	if !s.r.broken {
		s.wrong(key, sentence, args...)
	}
}

// wanted notes a value of the wrong kind.
func (s *section) wanted(key string, n *node, what text.Message) {
	shape, wanted := text.Sub("shape", n.shape.say()), text.Sub("wanted", what)
	if n.quoted() == "" {
		s.wrong(key, "config.shape_wrong", shape, wanted)
		return
	}
	s.wrong(key, "config.value_wrong", text.Name("given", n.quoted()), shape, wanted)
}

// need notes that a key must be given where that is not so.
func (s *section) need(ok bool, key, sentence string, args ...text.Arg) {
	if !ok {
		s.missing(key, sentence, args...)
	}
}

// must demands a key.
func (s *section) must(ok bool, key string) { s.need(ok, key, "config.must") }

// mustWith demands a key because of another one, or of its value.
func (s *section) mustWith(ok bool, key, other string) {
	s.need(ok, key, "config.must_with", text.Name("other", other))
}

// together demands that two keys are given both, or neither.
func (s *section) together(a, b string) {
	s.need(s.given(a) == s.given(b), a, "config.together", text.Name("a", a), text.Name("b", b))
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
			s.wrong(key, "config.no_key_below", text.Name("section", s.name), text.Name("inner", inner), text.Name("key", key))
			continue
		}
		s.wrong(key, "config.no_key", text.Sub("hint", s.hint(key, s.own)))
	}
}

// hint says what may have been meant by an unknown key: one spelt much like
// it, or the section where it belongs.
func (s *section) hint(key string, known []string) text.Message {
	if len(s.r.problems) > mostPrinted {
		return text.Message{} // Error prints no more, and each hint takes a while to find
	}
	if like := didYouMean(key, known); !like.IsZero() {
		return like
	}
	var homes []string
	for name, keys := range s.r.schema() {
		if name != s.name && slices.Contains(keys, key) {
			homes = append(homes, header(name))
		}
	}
	if len(homes) > 0 {
		slices.Sort(homes)
		switch {
		case homes[0] != "":
			return text.Say("config.hint.belongs", text.Name("sections", strings.Join(homes, ", ")))
		case len(homes) == 1:
			return text.Say("config.hint.top")
		}
		return text.Say("config.hint.top_or", text.Name("sections", strings.Join(homes[1:], ", ")))
	}
	return text.Say("config.hint.all")
}

// header is how a section begins in the file; "" is the top of it.
func header(name string) string {
	switch name {
	case "":
		return ""
	case "sensor", "vessel", "notify", "mat.schedule", "plan.away", "plan.flour", "plan.recipe", "plan.recipe.flour", "plan.recipe.stage":
		return "[[" + name + "]]"
	}
	return "[" + name + "]"
}
