package config

import (
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// hidden stands where a value is not shown.
const hidden = "(hidden)"

// Redaction is a configuration that can be shown to somebody else.
type Redaction struct {
	Text    string   // keys and values, without comments
	Secrets []string // what was hidden, and what the files and variables it names hold
}

// Redact returns the text of a configuration with nothing in it that may be a
// secret. It works from what may be shown, not from what may not: a value
// stands there only if its key is a known one that holds no secret. So a key
// with a slip of the pen, a comment, and a line that is no TOML are hidden
// too, and a file full of mistakes can be shown like any other. Relative paths
// of secrets are looked for in dir.
func Redact(text []byte, dir string) Redaction {
	k := &redactor{known: schema(), dir: dir}
	var out strings.Builder
	for line := range strings.Lines(string(text)) {
		if line = k.line(strings.TrimSpace(line)); line != "" {
			out.WriteString(line + "\n")
		}
	}
	slices.SortFunc(k.secrets, func(a, b string) int { return len(b) - len(a) })
	return Redaction{Text: out.String(), Secrets: slices.Compact(k.secrets)}
}

type redactor struct {
	known   map[string][]string // section -> its keys
	section string              // the one that the lines are in
	dir     string
	secrets []string
}

// The forms of a line. A value that spans lines, or a table in one line, is
// of no form and so is not shown.
var (
	aHeader = later(`^\[\[?\s*([\w.]+)\s*\]?\]\s*(#.*)?$`)
	aKey    = later(`^([\w.-]+)\s*=\s*(.*)$`)
	aValue  = later(`^("(?:[^"\\]|\\.)*"|'[^']*'|\[[^\[\]{}#]*\]|[\w.+:-]+)\s*(#.*)?$`)
	aNumber = later(`^([\d.+-]+|true|false)$`)
	aText   = later(`"(?:[^"\\]|\\.)*"|'[^']*'|[^\s"'=\[\]{},]+`)
)

// line returns what is shown of one line, "" for nothing.
func (k *redactor) line(line string) string {
	if line == "" || line[0] == '#' {
		k.comment(line)
		return ""
	}
	if m := aHeader().FindStringSubmatch(line); m != nil {
		k.section = m[1]
		if _, ok := k.known[k.section]; ok {
			return "\n" + strings.TrimSpace(line[:len(line)-len(m[2])])
		}
		return "\n# (a table that leavend does not know)"
	}
	m := aKey().FindStringSubmatch(line)
	if m == nil {
		k.hide(line)
		return "# (a line that is not shown)"
	}
	value := aValue().FindStringSubmatch(m[2])
	switch {
	case value != nil && k.open(m[1]):
		if aLogin().MatchString(value[1]) {
			k.note(unquote(value[1]))
		}
		return m[1] + " = " + Bare(value[1])
	case value != nil && aNumber().MatchString(value[1]) && !k.family(m[1]):
		return m[1] + " = " + value[1]
	case value != nil && k.family(m[1]):
		k.fetch(m[1], unquote(value[1]))
	default:
		k.hide(m[2])
	}
	return m[1] + " = " + hidden
}

// names returns the section and the bare name of a key, which may be dotted.
func (k *redactor) names(key string) (section, name string) {
	i := strings.LastIndexByte(key, '.')
	if i < 0 {
		return k.section, key
	}
	return strings.Trim(k.section+"."+key[:i], "."), key[i+1:]
}

// open reports whether a key is known and holds no secret.
func (k *redactor) open(key string) bool {
	section, name := k.names(key)
	return slices.Contains(k.known[section], name) && !k.family(key)
}

// family reports whether a key is one of the three by which a secret is given:
// key, key_file and key_env.
func (k *redactor) family(key string) bool {
	section, name := k.names(key)
	name = strings.TrimSuffix(strings.TrimSuffix(name, "_file"), "_env")
	keys := k.known[section]
	return slices.Contains(keys, name+"_env") && slices.Contains(keys, name+"_file")
}

// fetch notes a secret, and what its file or variable holds.
func (k *redactor) fetch(key, value string) {
	k.note(value)
	switch {
	case strings.HasSuffix(key, "_file"):
		if !filepath.IsAbs(value) {
			value = filepath.Join(k.dir, value)
		}
		if s, err := readSecret(value, nil); err == nil {
			k.note(s)
		}
	case strings.HasSuffix(key, "_env"):
		k.note(os.Getenv(value))
	}
}

// hide notes every word of a text that is not understood.
func (k *redactor) hide(text string) {
	for _, word := range aText().FindAllString(text, -1) {
		if !aNumber().MatchString(word) {
			k.note(unquote(word))
		}
	}
}

// comment notes the secret in a line that was taken out with a "#".
func (k *redactor) comment(line string) {
	m := aKey().FindStringSubmatch(strings.TrimLeft(line, "# "))
	if m == nil || !k.family(m[1]) {
		return
	}
	if value := aValue().FindStringSubmatch(m[2]); value != nil && !strings.Contains(reference, line) {
		k.fetch(m[1], unquote(value[1]))
	}
}

// shortest is the length below which a word is looked for nowhere else: it
// would be found inside others.
const shortest = 4

// note keeps a secret and, of an address, the parts that let somebody in.
func (k *redactor) note(secret string) {
	keep := func(s string) {
		if len(s) >= shortest {
			k.secrets = append(k.secrets, s)
		}
		if escaped := url.QueryEscape(s); escaped != s && len(s) >= shortest {
			k.secrets = append(k.secrets, escaped)
		}
	}
	keep(secret)
	u, err := url.Parse(secret)
	if err != nil || u.Scheme == "" || !strings.Contains(secret, "//") {
		return
	}
	if u.User != nil {
		keep(u.User.Username())
		password, _ := u.User.Password()
		keep(password)
	}
	for _, part := range strings.Split(u.Path, "/") {
		keep(part)
	}
	for _, values := range u.Query() {
		for _, v := range values {
			keep(v)
		}
	}
}

// Places in any text where an address carries a login or a token.
var (
	aLogin = later(`(//)[^\s"'<>]*@`)
	aQuery = later(`(\w://[^\s"'<>?]*\?)[^\s"'<>]*`)
)

// Bare returns a text in which no address has a login or a query any more.
func Bare(text string) string {
	text = aLogin().ReplaceAllString(text, "${1}"+hidden+"@")
	return aQuery().ReplaceAllString(text, "${1}"+hidden)
}

// Scrub takes the secrets out of a text that was made elsewhere.
func (r Redaction) Scrub(text string) string {
	for _, s := range r.Secrets {
		text = strings.ReplaceAll(text, s, hidden)
	}
	return Bare(text)
}

// unquote returns a TOML text without its quotes; of the rare escapes in it
// only those are undone that a password could hold.
func unquote(s string) string {
	if len(s) < 2 || s[0] != '"' && s[0] != '\'' {
		return s
	}
	body := s[1 : len(s)-1]
	if s[0] == '\'' {
		return body
	}
	return strings.NewReplacer(`\"`, `"`, `\\`, `\`).Replace(body)
}
