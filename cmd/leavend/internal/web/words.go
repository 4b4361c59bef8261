package web

import (
	"fmt"
	"strings"
)

// The words of the page stand in words.js alone. What the document itself says
// is read from there, in the few forms that it needs.

var (
	wordGroup  = later(`(?ms)^  (\w+): \{\s(.*?)\},$`)
	wordInside = later(`(\w+): '([^']*)'`)
	wordAlone  = later(`(?m)^  (\w+): '([^']*)',$`)
	wordPhrase = later("(?m)^  (\\w+): \\([\\w, ]*\\) => `([^`]*)`,$")
)

// word is one of a group of words, such as the name of a screen.
type word struct{ Name, Label string }

// words finds the page's words by their names.
type words struct {
	groups map[string][]word
	single map[string]string // with ${name} where something is to be filled in
}

func readWords(source []byte) words {
	w := words{groups: map[string][]word{}, single: map[string]string{}}
	for _, m := range wordGroup().FindAllSubmatch(source, -1) {
		for _, one := range wordInside().FindAllSubmatch(m[2], -1) {
			w.groups[string(m[1])] = append(w.groups[string(m[1])], word{string(one[1]), string(one[2])})
		}
	}
	for _, m := range append(wordAlone().FindAllSubmatch(source, -1), wordPhrase().FindAllSubmatch(source, -1)...) {
		w.single[string(m[1])] = string(m[2])
	}
	return w
}

// need reports the first of the names that is not there.
func (w words) need(names ...string) error {
	for _, name := range names {
		if len(w.groups[name]) == 0 && w.single[name] == "" {
			return fmt.Errorf("web: words.js does not say %s", name)
		}
	}
	return nil
}

// of returns a word of a group, or "".
func (w words) of(group, name string) string {
	for _, one := range w.groups[group] {
		if one.Name == name {
			return one.Label
		}
	}
	return ""
}

// say fills a phrase with pairs of name and value.
func (w words) say(name string, with ...string) string {
	for i := 0; i < len(with); i += 2 {
		with[i] = "${" + with[i] + "}"
	}
	return strings.NewReplacer(with...).Replace(w.single[name])
}
