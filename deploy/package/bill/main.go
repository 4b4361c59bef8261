// Command bill says what a built leavend is made of. It reads the list of
// modules that the Go linker wrote into the binary, so what it tells is what
// is really in there, and writes
//
//   - a bill of materials in the CycloneDX 1.5 form (-sbom), and
//   - the licences of all of it, word for word (-licences).
//
// A module without a licence that is known here ends it with an error: no one
// has looked at that one yet. The same binary gives the same bytes.
package main

import (
	"bytes"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"slices"
	"strings"
)

func main() {
	sbom := flag.String("sbom", "", "file for the bill of materials")
	licences := flag.String("licences", "", "file for the licences")
	version := flag.String("version", "dev", "version of leavend")
	flag.Parse()
	if err := run(flag.Arg(0), *version, *sbom, *licences); err != nil {
		fmt.Fprintln(os.Stderr, "bill:", err)
		os.Exit(1)
	}
}

func run(binary, version, sbom, licences string) error {
	info, err := buildinfo.ReadFile(binary)
	if err != nil {
		return err
	}
	data, err := os.ReadFile(binary)
	if err != nil {
		return err
	}
	parts, err := gather(info)
	if err != nil {
		return err
	}
	if sbom != "" {
		text, err := cycloneDX(parts, version, fmt.Sprintf("%x", sha256.Sum256(data)))
		if err != nil {
			return err
		}
		if err := os.WriteFile(sbom, text, 0o644); err != nil {
			return err
		}
	}
	if licences == "" {
		return nil
	}
	return os.WriteFile(licences, thirdParty(parts), 0o644)
}

// part is one thing that leavend is made of.
type part struct {
	Path, Version string
	Sum           string // as in go.sum; empty for what is no module
	Licence       string // as SPDX names it
	Texts         []text
	npm           bool // it came from there and not from Go's modules
}

// text is a licence or a notice, word for word.
type text struct{ Name, Body string }

// vendored is what is in the binary without being a Go module: files of the
// page, each with its licence beside it.
// The versions stand in the list that the browser tests install by.
const (
	vendored = "cmd/leavend/internal/web/page/vendor"
	npmList  = "cmd/leavend/internal/web/browser/package.json"
)

// gather finds every module of the binary with its licence, and what is in
// there without being a module: Go itself, and what the page brings.
func gather(info *debug.BuildInfo) ([]part, error) {
	goroot, err := goEnv("GOROOT")
	if err != nil {
		return nil, err
	}
	parts, dirs := []part{{Path: "std", Version: info.GoVersion}}, []string{goroot + "/"}
	for name, files := range map[string]string{"uplot": "uPlot-", "@fontsource-variable/vollkorn": "vollkorn-"} {
		version, err := npmVersion(name)
		if err != nil {
			return nil, err
		}
		parts, dirs = append(parts, part{Path: name, Version: version, npm: true}), append(dirs, vendored+"/"+files)
	}
	sources, err := moduleDirs()
	if err != nil {
		return nil, err
	}
	for _, m := range info.Deps {
		dir := sources[m.Path]
		if dir == "" {
			return nil, fmt.Errorf("%s: go list does not find its source", m.Path)
		}
		if m.Replace != nil {
			m = m.Replace
		}
		parts, dirs = append(parts, part{Path: m.Path, Version: m.Version, Sum: m.Sum}), append(dirs, dir+"/")
	}
	for i := range parts {
		if parts[i].Texts, err = licenceTexts(dirs[i]); err != nil {
			return nil, fmt.Errorf("%s: %w", parts[i].Path, err)
		}
		if parts[i].Licence = names(parts[i].Texts); parts[i].Licence == "" {
			return nil, fmt.Errorf("%s: its licence in %s is not one that is known here", parts[i].Path, dirs[i])
		}
	}
	slices.SortFunc(parts, func(a, b part) int { return strings.Compare(a.Path, b.Path) })
	return parts, nil
}

// moduleDirs says where each module's source lies.
func moduleDirs() (map[string]string, error) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Path}}\t{{.Dir}}", "all").Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	dirs := map[string]string{}
	for line := range strings.Lines(string(out)) {
		path, dir, _ := strings.Cut(strings.TrimSpace(line), "\t")
		dirs[path] = dir
	}
	return dirs, nil
}

// npmVersion is the version of a package that the page was given.
func npmVersion(name string) (string, error) {
	data, err := os.ReadFile(npmList)
	if err != nil {
		return "", err
	}
	var list struct{ Dependencies, DevDependencies map[string]string }
	if err := json.Unmarshal(data, &list); err != nil {
		return "", fmt.Errorf("%s: %w", npmList, err)
	}
	for _, versions := range []map[string]string{list.Dependencies, list.DevDependencies} {
		if v := versions[name]; v != "" {
			return v, nil
		}
	}
	return "", fmt.Errorf("%s does not name %s", npmList, name)
}

func goEnv(name string) (string, error) {
	out, err := exec.Command("go", "env", name).Output()
	return strings.TrimSpace(string(out)), err
}

// aLicence is how files of licences and notices are called.
var aLicence = regexp.MustCompile(`(?i)(licen[cs]e|copying|notice|^e[dp]l-v)`)

// licenceTexts reads the licences and notices whose paths begin with prefix:
// a folder with its slash, or a folder and the beginning of names.
func licenceTexts(prefix string) ([]text, error) {
	files, err := filepath.Glob(prefix + "*")
	if err != nil {
		return nil, err
	}
	var texts []text
	for _, f := range files {
		base := filepath.Base(f)
		if info, err := os.Stat(f); err != nil || info.IsDir() || filepath.Ext(base) == ".go" || !aLicence.MatchString(base) {
			continue
		}
		body, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		texts = append(texts, text{base, string(body)})
	}
	if len(texts) == 0 {
		return nil, fmt.Errorf("there is no licence in %s", prefix)
	}
	return texts, nil
}

// marks are phrases that only one licence has, the more particular first.
var marks = []struct{ phrase, licence string }{
	{"and Eclipse Distribution License v1.0 which accompany this distribution", "(EPL-2.0 OR BSD-3-Clause)"},
	{"Apache License Version 2.0, January 2004", "Apache-2.0"},
	{"SIL OPEN FONT LICENSE Version 1.1", "OFL-1.1"},
	{"The author disclaims copyright to this source code", "blessing"},
	{"Permission to use, copy, modify, and/or distribute this software for any purpose with or without fee", "ISC"},
	{"Permission is hereby granted, free of charge, to any person obtaining a copy", "MIT"},
	{"endorse or promote products derived from this software without specific prior written permission", "BSD-3-Clause"},
	{"Redistributions in binary form must reproduce the above copyright notice", "BSD-2-Clause"},
}

// names recognises licences by their words, whatever the line breaks, and
// returns the SPDX expression for all of a part's texts. A choice between two
// is told before its halves, which then stand for nothing of their own.
func names(texts []text) string {
	var found []string
	for _, t := range texts {
		words := strings.Join(strings.Fields(t.Body), " ")
		for _, m := range marks {
			if strings.Contains(words, m.phrase) {
				found = append(found, m.licence)
				break
			}
		}
	}
	slices.Sort(found)
	found = slices.Compact(found)
	if len(found) > 0 && strings.Contains(found[0], " OR ") {
		return found[0]
	}
	return strings.Join(found, " AND ")
}

// thirdParty is one readable file with every licence in it; equal texts stand
// there once.
func thirdParty(parts []part) []byte {
	var b bytes.Buffer
	b.WriteString("What leavend is made of, beside its own source, and under which licences.\n\n")
	for _, p := range parts {
		fmt.Fprintf(&b, "%-44s %-36s %s\n", p.Path, p.Version, p.Licence)
	}
	first := map[string]string{}
	for _, p := range parts {
		for _, t := range p.Texts {
			fmt.Fprintf(&b, "\n%s\n%s %s, %s\n\n", strings.Repeat("=", 78), p.Path, p.Version, t.Name)
			if as, known := first[t.Body]; known {
				fmt.Fprintf(&b, "Word for word as that of %s.\n", as)
				continue
			}
			first[t.Body] = p.Path
			b.WriteString(strings.TrimSpace(t.Body) + "\n")
		}
	}
	return b.Bytes()
}
