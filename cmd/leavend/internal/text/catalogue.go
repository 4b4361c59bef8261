package text

import (
	"embed"
	"encoding/json"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

//go:embed language/*.toml
var files embed.FS

// Fallback is the language of a reader who has chosen none that is known.
const Fallback = "en"

// catalogue is one language.
type catalogue struct {
	tag       language.Tag
	sentences map[string]sentence // by key
}

// sentence is a text with places for values, or several to choose from by a
// count.
type sentence struct {
	forms map[string][]piece // by plural category; "" where there is one form only
	count string             // the argument that chooses
}

// piece is a stretch of text, or the place of a value.
type piece struct {
	text  string
	name  string
	style string
}

// all reads the embedded files once. They are part of the program and tested,
// so one that cannot be read is a mistake in the program.
var all = sync.OnceValue(func() map[string]*catalogue {
	found := map[string]*catalogue{}
	names, err := files.ReadDir("language")
	if err != nil {
		panic(err)
	}
	for _, n := range names {
		b, err := files.ReadFile("language/" + n.Name())
		if err != nil {
			panic(err)
		}
		code := strings.TrimSuffix(n.Name(), path.Ext(n.Name()))
		c, err := read(code, b)
		if err != nil {
			panic(err)
		}
		found[code] = c
	}
	return found
})

// Languages returns the codes of all languages, the fallback first.
func Languages() []string {
	codes := slices.DeleteFunc(slices.Sorted(maps.Keys(all())), func(c string) bool { return c == Fallback })
	return append([]string{Fallback}, codes...)
}

// Match returns the language that fits best what a reader asks for: a language
// tag, or the value of an Accept-Language header.
func Match(wanted ...string) string {
	codes := Languages()
	tags := make([]language.Tag, len(codes))
	for i, c := range codes {
		tags[i] = all()[c].tag
	}
	_, i := language.MatchStrings(language.NewMatcher(tags), wanted...)
	return codes[i]
}

func of(code string) *catalogue {
	if c := all()[code]; c != nil {
		return c
	}
	return all()[Fallback]
}

// read takes a language from its file.
func read(code string, b []byte) (*catalogue, error) {
	tag, err := language.Parse(code)
	if err != nil {
		return nil, fmt.Errorf("text: %s: %w", code, err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		return nil, fmt.Errorf("text: language %s: %w", code, err)
	}
	c := &catalogue{tag: tag, sentences: map[string]sentence{}}
	return c, c.gather("", tree)
}

// gather flattens the tables of a file into keys with dots.
func (c *catalogue) gather(prefix string, tree map[string]any) error {
	for name, value := range tree {
		key := prefix + name
		switch v := value.(type) {
		case string:
			c.sentences[key] = sentence{forms: map[string][]piece{"": parse(v)}}
		case map[string]any:
			if _, ok := v["other"]; !ok {
				if err := c.gather(key+".", v); err != nil {
					return err
				}
				continue
			}
			s, err := plurals(key, v)
			if err != nil {
				return err
			}
			c.sentences[key] = s
		default:
			return fmt.Errorf("text: %s is neither a sentence nor a table", key)
		}
	}
	return nil
}

// plurals reads the forms of a sentence that has several. The CLDR names them:
// zero, one, two, few, many, other.
func plurals(key string, forms map[string]any) (sentence, error) {
	s := sentence{forms: map[string][]piece{}}
	for name, value := range forms {
		v, ok := value.(string)
		if !ok || !slices.Contains([]string{"zero", "one", "two", "few", "many", "other"}, name) {
			return s, fmt.Errorf("text: %s.%s is no plural form", key, name)
		}
		s.forms[name] = parse(v)
	}
	for _, p := range s.forms["other"] {
		if p.style == "count" {
			s.count = p.name
			return s, nil
		}
	}
	return s, fmt.Errorf("text: %s has plural forms and counts nothing", key)
}

var place = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\{(\w+)(?::(\w+))?\}`) })

// parse splits a text at the places for values.
func parse(s string) []piece {
	var out []piece
	last := 0
	for _, m := range place().FindAllStringSubmatchIndex(s, -1) {
		if m[0] > last {
			out = append(out, piece{text: s[last:m[0]]})
		}
		p := piece{name: s[m[2]:m[3]], style: "text"}
		if m[4] >= 0 {
			p.style = s[m[4]:m[5]]
		}
		out = append(out, p)
		last = m[1]
	}
	if last < len(s) {
		out = append(out, piece{text: s[last:]})
	}
	return out
}

// form is the one that fits the message's count.
func (s sentence) form(tag language.Tag, m Message) []piece {
	if s.count == "" {
		return s.forms[""]
	}
	n, _ := m.Args[s.count].(float64)
	name := categories[plural.Cardinal.MatchPlural(tag, int(n), 0, 0, 0, 0)]
	if f, ok := s.forms[name]; ok {
		return f
	}
	return s.forms["other"]
}

var categories = map[plural.Form]string{plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many", plural.Other: "other"}

// Page returns a language as the page reads it: its sentences in groups within
// groups, but for those named in without; the groups of apart for themselves.
func Page(code string, without, apart []string) (usual, rest []byte, err error) {
	b, err := files.ReadFile("language/" + code + ".toml")
	if err != nil {
		return nil, nil, fmt.Errorf("text: %w", err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		return nil, nil, fmt.Errorf("text: language %s: %w", code, err)
	}
	others := map[string]any{}
	for _, key := range apart {
		move(tree, others, strings.Split(key, "."))
	}
	for _, key := range without {
		move(tree, map[string]any{}, strings.Split(key, "."))
	}
	if usual, err = json.Marshal(tree); err == nil {
		rest, err = json.Marshal(others)
	}
	return usual, rest, err
}

// move takes a group, or a group within one, out of a tree into another.
func move(tree, to map[string]any, path []string) {
	name := path[0]
	sub, ok := tree[name].(map[string]any)
	switch {
	case !ok:
	case len(path) == 1:
		to[name] = sub
		delete(tree, name)
	default:
		if to[name] == nil {
			to[name] = map[string]any{}
		}
		move(sub, to[name].(map[string]any), path[1:])
	}
}
