package main

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestBill makes the bill of a leavend that is built here, and holds it to what
// the go command reads in the same file, to the file's own sum, and to the
// published schema of CycloneDX 1.5.
func TestBill(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the daemon")
	}
	t.Chdir("../../..")
	dir := t.TempDir()
	binary, sbom, licences := filepath.Join(dir, "leavend"), filepath.Join(dir, "sbom"), filepath.Join(dir, "licences")
	if out, err := exec.Command("go", "build", "-o", binary, "./cmd/leavend").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	if err := run(binary, "1.2.3", sbom, licences); err != nil {
		t.Fatal(err)
	}
	text := read(t, sbom)
	var b bom
	if err := json.Unmarshal(text, &b); err != nil {
		t.Fatal(err)
	}
	if got, want := b.Metadata.Component.Hashes[0].Content, fmt.Sprintf("%x", sha256.Sum256(read(t, binary))); got != want || b.Metadata.Component.Version != "1.2.3" {
		t.Errorf("the bill is of %s, version %s; the file has %s", got, b.Metadata.Component.Version, want)
	}

	out, err := exec.Command("go", "version", "-m", binary).Output()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"std", "uplot", "@fontsource-variable/vollkorn"}
	for _, m := range regexp.MustCompile(`(?m)^\tdep\t(\S+)\t(\S+)`).FindAllStringSubmatch(string(out), -1) {
		want = append(want, m[1]+" "+m[2])
	}
	var got []string
	for _, c := range b.Components {
		name := c.Name
		if strings.HasPrefix(c.PURL, "pkg:golang/") && name != "std" {
			name += " " + c.Version
		}
		got = append(got, name)
		if c.Licences[0].Expression == "" || !strings.Contains(string(read(t, licences)), "\n"+c.Name+" "+c.Version+", ") {
			t.Errorf("%s stands there without its licence", c.Name)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if len(want) < 30 || !slices.Equal(got, want) {
		t.Errorf("got %d parts:\n%q\nwant %d:\n%q", len(got), got, len(want), want)
	}

	again := filepath.Join(dir, "again")
	if err := run(binary, "1.2.3", again, ""); err != nil || string(read(t, again)) != string(text) {
		t.Errorf("the same binary has another bill the second time: %v", err)
	}
	valid(t, sbom)
}

// valid holds a bill to the schema with python3-jsonschema, and makes sure that
// it would find a bill that is wrong.
func valid(t *testing.T, file string) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import jsonschema").Run(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal("python3-jsonschema is missing: ", err)
		}
		t.Skip("python3-jsonschema is missing")
	}
	const script = `
import json, sys, warnings
warnings.simplefilter("ignore")
import jsonschema
schema, spdx = (json.load(open("deploy/package/bill/testdata/" + f)) for f in ("bom-1.5.schema.json", "spdx.schema.json"))
resolver = jsonschema.RefResolver.from_schema(schema, store={spdx["$id"]: spdx})
check = jsonschema.Draft7Validator(schema, resolver=resolver)
bill = json.load(open(sys.argv[1]))
for e in check.iter_errors(bill):
    print("/".join(map(str, e.absolute_path)), e.message)
def spoil(f):
    wrong = json.loads(json.dumps(bill))
    f(wrong)
    if check.is_valid(wrong):
        print("a wrong bill passes", f.__doc__)
def hash(b): b["components"][0]["hashes"] = [{"alg": "SHA-256", "content": "xyz"}]
def kind(b): b["components"][1]["type"] = "starter"
def name(b): del b["components"][2]["name"]
def more(b): b["flour"] = 1
for f in hash, kind, name, more: spoil(f)
`
	if out, err := exec.Command(python, "-c", script, file).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("the schema says (%v):\n%s", err, out)
	}
}

func read(t *testing.T, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestPURL writes addresses as the package-url specification has them: the
// examples are its own (PURL-SPECIFICATION and PURL-TYPES, from memory), but for
// the version with a plus, which is percent-encoded by its rules.
func TestPURL(t *testing.T) {
	for want, p := range map[string]part{
		"pkg:golang/google.golang.org/genproto@abcdedf":                   {Path: "google.golang.org/genproto", Version: "abcdedf"},
		"pkg:golang/github.com/gorilla/context@234fd47e07d1004f0aed9c":    {Path: "github.com/gorilla/context", Version: "234fd47e07d1004f0aed9c"},
		"pkg:npm/%40angular/animation@12.3.1":                             {Path: "@angular/animation", Version: "12.3.1", npm: true},
		"pkg:golang/github.com/burntsushi/toml@v1.0.0":                    {Path: "github.com/BurntSushi/toml", Version: "v1.0.0"},
		"pkg:golang/github.com/containrrr/shoutrrr@v0.8.0%2Bincompatible": {Path: "github.com/containrrr/shoutrrr", Version: "v0.8.0+incompatible"},
		"pkg:golang/std@1.26.8":                                           {Path: "std", Version: "go1.26.8"},
	} {
		if got := purl(p); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// TestNames recognises licences by the words of the texts themselves.
func TestNames(t *testing.T) {
	const mit = "Permission is hereby granted, free of\n  charge, to any person obtaining a copy"
	const bsd2 = "Redistributions in binary form must reproduce the above copyright notice"
	const bsd3 = bsd2 + " ... endorse or promote products derived from\nthis software without specific prior written permission"
	const either = "the Eclipse Public License v2.0 and Eclipse Distribution License v1.0 which accompany this distribution"
	for _, tt := range []struct {
		name  string
		texts []string
		want  string
	}{
		{"over a line break", []string{mit}, "MIT"},
		{"the longer of two that begin alike", []string{bsd3}, "BSD-3-Clause"},
		{"two of them", []string{mit, bsd2}, "BSD-2-Clause AND MIT"},
		{"the same one twice", []string{mit, mit}, "MIT"},
		{"a choice stands for its halves", []string{bsd3, either}, "(EPL-2.0 OR BSD-3-Clause)"},
		{"a notice beside it", []string{mit, "This product includes flour."}, "MIT"},
		{"unknown words", []string{"Do as you please on Tuesdays."}, ""},
	} {
		var texts []text
		for _, body := range tt.texts {
			texts = append(texts, text{"LICENSE", body})
		}
		if got := names(texts); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

// TestNobodyLookedAtIt stops at a folder without a licence, and takes no source
// for one.
func TestNobodyLookedAtIt(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"license.go", "README.md"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("package licence"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if texts, err := licenceTexts(dir + "/"); err == nil || !strings.Contains(err.Error(), "there is no licence in") {
		t.Errorf("got %v, %v", texts, err)
	}
}

// TestNoBinary says which file it cannot read.
func TestNoBinary(t *testing.T) {
	if err := run(filepath.Join(t.TempDir(), "leavend"), "1", "", ""); err == nil || !strings.Contains(err.Error(), "leavend") {
		t.Errorf("got %v", err)
	}
}
