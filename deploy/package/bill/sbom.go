package main

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"strings"
)

// The form of a bill of materials: CycloneDX 1.5, JSON (ECMA-424 describes its
// successor). Only what is used here.
type bom struct {
	Schema       string      `json:"$schema"`
	Format       string      `json:"bomFormat"`
	SpecVersion  string      `json:"specVersion"`
	Version      int         `json:"version"`
	Metadata     metadata    `json:"metadata"`
	Components   []component `json:"components"`
	Dependencies []depends   `json:"dependencies"`
}

type metadata struct {
	Component component `json:"component"`
}

type component struct {
	Type     string    `json:"type"`
	Ref      string    `json:"bom-ref"`
	Name     string    `json:"name"`
	Version  string    `json:"version"`
	PURL     string    `json:"purl,omitempty"`
	Hashes   []hash    `json:"hashes,omitempty"`
	Licences []licence `json:"licenses,omitempty"`
}

type hash struct {
	Alg     string `json:"alg"`
	Content string `json:"content"`
}

// licence is an SPDX expression.
type licence struct {
	Expression string `json:"expression"`
}

type depends struct {
	Ref string   `json:"ref"`
	On  []string `json:"dependsOn,omitempty"`
}

// cycloneDX writes the bill. It has no time and no serial number, so that the
// same binary has the same bill.
func cycloneDX(parts []part, version, sum string) ([]byte, error) {
	root := component{Type: "application", Ref: "leavend", Name: "leavend", Version: version, Licences: under("MIT"),
		Hashes: []hash{{"SHA-256", sum}}}
	b := bom{
		Schema: "http://cyclonedx.org/schema/bom-1.5.schema.json", Format: "CycloneDX", SpecVersion: "1.5", Version: 1,
		Metadata: metadata{root},
	}
	uses := depends{Ref: root.Ref}
	for _, p := range parts {
		c := component{Type: "library", Name: p.Path, Version: p.Version, Licences: under(p.Licence), PURL: purl(p)}
		c.Ref = c.PURL
		// A sum in go.sum is "h1:" and the base64 of a SHA-256 over the
		// module's files.
		if raw, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(p.Sum, "h1:")); err == nil && len(raw) == 32 {
			c.Hashes = []hash{{"SHA-256", hex.EncodeToString(raw)}}
		}
		b.Components = append(b.Components, c)
		b.Dependencies = append(b.Dependencies, depends{Ref: c.Ref})
		uses.On = append(uses.On, c.Ref)
	}
	b.Dependencies = append(b.Dependencies, uses)
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(b)
	return out.Bytes(), err
}

// purl is the address of a package as other tools look it up.
func purl(p part) string {
	switch {
	case p.Path == "std":
		return "pkg:golang/std@" + strings.TrimPrefix(p.Version, "go")
	case p.npm:
		return "pkg:npm/" + strings.Replace(p.Path, "@", "%40", 1) + "@" + p.Version
	}
	return "pkg:golang/" + strings.ToLower(p.Path) + "@" + strings.ReplaceAll(p.Version, "+", "%2B")
}

func under(expression string) []licence { return []licence{{expression}} }
