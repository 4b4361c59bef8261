package page

import (
	"strings"
	"testing"
)

func TestJoinModules(t *testing.T) {
	tests := []struct {
		name    string
		modules map[string]string
		want    []string // in this order
		err     string
	}{
		{"each finds what it imports",
			map[string]string{
				"app.js":       "import { b as bee } from './screens/b.js';\nbee();\nconst x = await import(`./screens/${name}.js`);\n",
				"screens/b.js": "import {\n  a,\n} from '../a.js';\nexport function b() { return a; }\n",
				"a.js":         "export const a = 1; // one\n\nexport async function c() {}\nexport class D {}\n",
			},
			[]string{"module('a', () => {\nconst a = 1; // one", "return { a, c, D };", "module('screens_b'", "const { a, } = M.a;", "return { b };", "module('app'", "const { b: bee } = M.screens_b;", "await M[`screens_${name}`]", "M.app;"}, ""},
		{"a circle", map[string]string{"app.js": "import { a } from './a.js';\n", "a.js": "import { b } from './app.js';\n"}, nil, "imports itself"},
		{"a module that is not there", map[string]string{"app.js": "import { a } from './a.js';\n"}, nil, "does not exist"},
		{"a name that is not exported", map[string]string{"app.js": "import { a, b as c } from './a.js';\n", "a.js": "export const a = 1;\n"}, nil, "imports b, which a.js does not export"},
		{"a form that is not understood", map[string]string{"app.js": "export default 3;\n"}, nil, "not understood: export default"},
		{"another such form", map[string]string{"app.js": "import * as a from './a.js';\n", "a.js": ""}, nil, "not understood: import *"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			modules := map[string][]byte{}
			for name, text := range tt.modules {
				modules[name] = []byte(text)
			}
			got, _, err := joinModules(modules, "app.js")
			if (err != nil) != (tt.err != "") || err != nil && !strings.Contains(err.Error(), tt.err) {
				t.Fatalf("error %v, want %q", err, tt.err)
			}
			rest := string(got)
			for _, want := range tt.want {
				_, after, ok := strings.Cut(rest, want)
				if !ok {
					t.Fatalf("%q is missing or comes too early in:\n%s", want, got)
				}
				rest = after
			}
		})
	}
}

// What only rare screens need stands apart, and finds the modules of the others.
func TestJoinModulesKeepsRareOnesApart(t *testing.T) {
	usual, rare, err := joinModules(map[string][]byte{
		"app.js":       []byte("import { a } from './a.js';\na();\nconst { open } = await import(`./rare/${name}.js`);\n"),
		"a.js":         []byte("export function a() {}\n"),
		"rare/form.js": []byte("import { a } from '../a.js';\nexport const form = a;\n"),
		"rare/b.js":    []byte("import { form } from './form.js';\nexport const open = form;\n"),
	}, "app.js")
	if err != nil {
		t.Fatal(err)
	}
	if got := string(usual); !strings.Contains(got, "await loadRare(`rare_${name}`)") || strings.Contains(got, "module('rare_") {
		t.Errorf("the usual modules are\n%s", got)
	}
	if got := string(rare); !strings.Contains(got, "const { a } = M.a;") || !strings.Contains(got, "const { form } = M.rare_form;") || strings.Contains(got, "module('a'") {
		t.Errorf("the rare modules are\n%s", got)
	}
}
