package web

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// description is the part of openapi.json that the tests read.
type description struct {
	OpenAPI    string                          `json:"openapi"`
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	ID         string                      `json:"operationId"`
	Parameters []struct{ Name, In string } `json:"parameters"`
	Security   []map[string][]string       `json:"security"`
	Body       any                         `json:"requestBody"`
	Responses  map[string]struct {
		Content map[string]struct {
			Schema schema `json:"schema"`
		} `json:"content"`
	} `json:"responses"`
}

// schema is the subset of JSON Schema 2020-12 that openapi.json uses.
type schema struct {
	Ref        string            `json:"$ref"`
	Type       any               `json:"type"`
	Required   []string          `json:"required"`
	Properties map[string]schema `json:"properties"`
	Additional *bool             `json:"additionalProperties"`
	Items      *schema           `json:"items"`
	Enum       []string          `json:"enum"`
	Format     string            `json:"format"`
	Pattern    string            `json:"pattern"`
}

// at describes the address of a route, which the description gives as seen from
// its server, /api/v1.
func (d description) at(path string) map[string]operation {
	return d.Paths[strings.TrimPrefix(path, "/api")]
}

func readDescription(t *testing.T) description {
	t.Helper()
	var d description
	if err := json.Unmarshal(openAPI, &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// check reports the first place where v does not match s.
func (d description) check(s schema, v any, at string) error {
	if s.Ref != "" {
		name := strings.TrimPrefix(s.Ref, "#/components/schemas/")
		target, ok := d.Components.Schemas[name]
		if !ok {
			return fmt.Errorf("%s: no schema %s", at, name)
		}
		return d.check(target, v, at)
	}
	if s.Type != nil && !slices.Contains(typesOf(s.Type), kindOfJSON(v)) && !(kindOfJSON(v) == "integer" && slices.Contains(typesOf(s.Type), "number")) {
		return fmt.Errorf("%s: is %s, want %v", at, kindOfJSON(v), s.Type)
	}
	switch v := v.(type) {
	case map[string]any:
		for _, name := range s.Required {
			if _, ok := v[name]; !ok {
				return fmt.Errorf("%s: lacks %s", at, name)
			}
		}
		for name, member := range v {
			p, ok := s.Properties[name]
			if !ok {
				if s.Additional != nil && !*s.Additional {
					return fmt.Errorf("%s: %s is not described", at, name)
				}
				continue
			}
			if err := d.check(p, member, at+"."+name); err != nil {
				return err
			}
		}
	case []any:
		for i, member := range v {
			if s.Items == nil {
				return fmt.Errorf("%s: items are not described", at)
			}
			if err := d.check(*s.Items, member, fmt.Sprintf("%s[%d]", at, i)); err != nil {
				return err
			}
		}
	case string:
		if len(s.Enum) > 0 && !slices.Contains(s.Enum, v) {
			return fmt.Errorf("%s: %q is none of %v", at, v, s.Enum)
		}
		if s.Pattern != "" && !regexp.MustCompile(s.Pattern).MatchString(v) {
			return fmt.Errorf("%s: %q does not match %s", at, v, s.Pattern)
		}
		if s.Format == "date-time" {
			if _, err := time.Parse(time.RFC3339Nano, v); err != nil {
				return fmt.Errorf("%s: %w", at, err)
			}
		}
	}
	return nil
}

func typesOf(t any) []string {
	if one, ok := t.(string); ok {
		return []string{one}
	}
	var all []string
	for _, x := range t.([]any) {
		all = append(all, x.(string))
	}
	return all
}

func kindOfJSON(v any) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case float64:
		if v == math.Trunc(v) {
			return "integer"
		}
		return "number"
	case string:
		return "string"
	case []any:
		return "array"
	}
	return "object"
}

// TestEveryRouteIsDescribed holds the table of routes and openapi.json
// together, both ways, with parameters and the rights each needs.
func TestEveryRouteIsDescribed(t *testing.T) {
	d := readDescription(t)
	if d.OpenAPI != "3.1.0" {
		t.Errorf("openapi %q, want 3.1.0", d.OpenAPI)
	}
	served := map[string]bool{}
	for _, rt := range allRoutes() {
		method := strings.ToLower(rt.method)
		served[method+" "+strings.TrimPrefix(rt.path, "/api")] = true
		op, ok := d.at(rt.path)[method]
		if !ok {
			t.Errorf("%s %s is served and not described", rt.method, rt.path)
			continue
		}
		for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(rt.path, -1) {
			if !slices.ContainsFunc(op.Parameters, func(p struct{ Name, In string }) bool { return p.Name == m[1] && p.In == "path" }) {
				t.Errorf("%s %s does not describe %s", rt.method, rt.path, m[1])
			}
		}
		if got, want := schemes(op.Security), schemesFor[rt.who]; !slices.Equal(got, want) {
			t.Errorf("%s %s: described as needing %q, want %q", rt.method, rt.path, got, want)
		}
		if _, ok := op.Responses["401"]; !ok && rt.who != anyone {
			t.Errorf("%s %s does not describe 401", rt.method, rt.path)
		}
	}
	ids := map[string]bool{}
	for path, ops := range d.Paths {
		for method, op := range ops {
			if !served[method+" "+path] {
				t.Errorf("%s %s is described and not served", method, path)
			}
			if op.ID == "" || ids[op.ID] {
				t.Errorf("%s %s: operationId %q is missing or used twice", method, path, op.ID)
			}
			ids[op.ID] = true
		}
	}
}

// schemesFor are what a route asks for: readers' are those of the whole
// description.
var schemesFor = map[who][]string{
	anyone: nil, reader: nil,
	feeder: {"basic feed", "session", "token feed"}, changer: {"basic change", "session", "token change"}, owner: {"session"},
}

// schemes are the ways to be let in, with the right that a token needs.
func schemes(all []map[string][]string) (out []string) {
	for _, one := range all {
		for name, scopes := range one {
			out = append(out, strings.Join(append([]string{name}, scopes...), " "))
		}
	}
	slices.Sort(out)
	return out
}

func TestCheckFindsWhatIsWrong(t *testing.T) {
	d := readDescription(t)
	measure := schema{Ref: "#/components/schemas/Measure"}
	tests := []struct {
		name, json string
		ok         bool
	}{
		{"good", `{"value":1.5,"at":"2026-03-14T07:00:00Z"}`, true},
		{"null value", `{"value":null,"at":"2026-03-14T07:00:00Z"}`, true},
		{"text for a number", `{"value":"1.5","at":"2026-03-14T07:00:00Z"}`, false},
		{"no time", `{"value":1.5,"at":"soon"}`, false},
		{"lacks a member", `{"value":1.5}`, false},
		{"one too many", `{"value":1.5,"at":"2026-03-14T07:00:00Z","unit":"mm"}`, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var v any
			if err := json.Unmarshal([]byte(tt.json), &v); err != nil {
				t.Fatal(err)
			}
			if err := d.check(measure, v, "measure"); (err == nil) != tt.ok {
				t.Errorf("check = %v, want ok %v", err, tt.ok)
			}
		})
	}
}
