package page

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
)

// The page is written as some fifty small modules. A slow phone loses a
// second in fetching them one after the other, so they are joined into one when
// the daemon starts; what only the screens of few visits need is joined into
// another, which those load. There is no build step: the joiner understands just
// the forms that our own modules use, and a test holds them to it.

var (
	importLine  = later(`(?m)^import \{([^}]*)\} from '(\.[^']+)';\n`)
	exportLine  = later(`(?m)^export (async function|function|const|class) (\w+)`)
	lateImport  = later("import\\(`\\./([^`]*)`\\)")
	rareImport  = later("import\\(`\\./(" + rareFolder + "[^`]*)`\\)")
	otherImport = later(`(?m)^(import|export) .*$`)
)

// joinHead keeps the modules as functions and runs each when it is first asked
// for: what no screen needs yet is not even compiled.
const joinHead = `'use strict';
const M = {};
const loadRare = async (name) => {
  if (!(name in M)) (await import('./` + rareFile + `')).default(M, module);
  return M[name];
};
const module = (name, run) => Object.defineProperty(M, name, {
  configurable: true,
  get() {
    const made = run();
    Object.defineProperty(M, name, { value: made });
    return made;
  },
});
`

// joinModules returns the module called entry with all others before it, each
// in a scope of its own, and those of the rare folder apart. Modules that are
// loaded late, by a computed name, must be among the given ones.
func joinModules(modules map[string][]byte, entry string) (usual, rare []byte, err error) {
	j := &joiner{modules: modules, done: map[string]bool{}}
	j.out.WriteString(joinHead)
	var names, seldom []string
	for _, name := range slices.Sorted(maps.Keys(modules)) {
		switch {
		case strings.HasPrefix(name, rareFolder):
			seldom = append(seldom, name)
		case name != entry:
			names = append(names, name)
		}
	}
	if err := j.addAll(append(names, entry)); err != nil {
		return nil, nil, err
	}
	fmt.Fprintf(&j.out, "M.%s;\n", short(entry))
	usual = bytes.Clone(j.out.Bytes())
	j.out.Reset()
	j.out.WriteString("export default (M, module) => {\n")
	if err := j.addAll(seldom); err != nil {
		return nil, nil, err
	}
	j.out.WriteString("};\n")
	return usual, j.out.Bytes(), nil
}

func (j *joiner) addAll(names []string) error {
	for _, name := range names {
		if err := j.add(name, nil); err != nil {
			return fmt.Errorf("web: join the page's modules: %w", err)
		}
	}
	return nil
}

// joiner writes modules in an order in which each finds what it imports.
type joiner struct {
	modules map[string][]byte
	done    map[string]bool
	out     bytes.Buffer
}

func (j *joiner) add(name string, wanting []string) error {
	if slices.Contains(wanting, name) {
		return fmt.Errorf("%s imports itself by way of %s", name, strings.Join(wanting, ", "))
	}
	if j.done[name] {
		return nil
	}
	j.done[name] = true
	source, ok := j.modules[name]
	if !ok {
		return fmt.Errorf("%s is imported by %s and does not exist", name, strings.Join(wanting, ", "))
	}
	for _, m := range importLine().FindAllSubmatch(source, -1) {
		from := path.Join(path.Dir(name), string(m[2]))
		if err := j.add(from, append(wanting, name)); err != nil {
			return err
		}
		if missing, ok := notExported(j.modules[from], string(m[1])); ok {
			return fmt.Errorf("%s imports %s, which %s does not export", name, missing, from)
		}
	}
	body, err := scoped(name, source)
	if err != nil {
		return err
	}
	j.out.Write(body)
	return nil
}

// notExported finds the first of the imported names that a module does not export.
func notExported(module []byte, imported string) (string, bool) {
	exported := map[string]bool{}
	for _, m := range exportLine().FindAllSubmatch(module, -1) {
		exported[string(m[2])] = true
	}
	for name := range strings.SplitSeq(imported, ",") {
		name, _, _ = strings.Cut(strings.TrimSpace(name), " as ")
		if name != "" && !exported[name] {
			return name, true
		}
	}
	return "", false
}

// scoped turns a module into a function's body that returns what it exports.
func scoped(name string, source []byte) ([]byte, error) {
	var exports []string
	for _, m := range exportLine().FindAllSubmatch(source, -1) {
		exports = append(exports, string(m[2]))
	}
	text := importLine().ReplaceAllStringFunc(string(source), func(line string) string {
		m := importLine().FindStringSubmatch(line)
		taken := strings.ReplaceAll(strings.Join(strings.Fields(m[1]), " "), " as ", ": ")
		return fmt.Sprintf("const { %s } = M.%s;\n", taken, short(path.Join(path.Dir(name), m[2])))
	})
	text = exportLine().ReplaceAllString(text, "$1 $2")
	text = rareImport().ReplaceAllStringFunc(text, func(late string) string { return "loadRare(`" + lateName(late) + "`)" })
	text = lateImport().ReplaceAllStringFunc(text, func(late string) string { return "M[`" + lateName(late) + "`]" })
	if left := otherImport().FindString(text); left != "" {
		return nil, errors.New(name + ": this form is not understood: " + left)
	}
	return fmt.Appendf(nil, "module('%s', () => {\n%sreturn { %s };\n});\n", short(name), text, strings.Join(exports, ", ")), nil
}

// short is the name of a module among the joined ones.
func short(name string) string {
	return strings.ReplaceAll(strings.TrimSuffix(name, ".js"), "/", "_")
}

// lateName is that of a module that is loaded late: a name with a place in it.
func lateName(late string) string { return short(lateImport().FindStringSubmatch(late)[1]) }

// later compiles a pattern when it is first asked for, and not as the program
// starts: `leavend mat off` needs none and shall not wait for any.
func later(pattern string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(pattern) })
}
