package web

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"strconv"
	"sync"
)

// openapi.json is written by hand. examples.json holds a request and an answer
// of each operation as a test has seen them, by operationId.
//
//go:embed openapi.json
var openAPI []byte

//go:embed examples.json
var exampleFile []byte

// example is what an operation was asked, and what it answered.
type example struct {
	Request  any    `json:"request,omitempty"`
	Status   int    `json:"status"`
	Kind     string `json:"kind,omitempty"` // media type of the answer
	Response any    `json:"response,omitempty"`
}

// described is the description with its examples, as it is served.
var described = sync.OnceValues(func() ([]byte, error) {
	var whole map[string]any
	var examples map[string]example
	if err := json.Unmarshal(openAPI, &whole); err != nil {
		return nil, fmt.Errorf("web: read openapi.json: %w", err)
	}
	if err := json.Unmarshal(exampleFile, &examples); err != nil {
		return nil, fmt.Errorf("web: read examples.json: %w", err)
	}
	for _, ops := range within(whole, "paths") {
		for _, o := range ops.(map[string]any) {
			op := o.(map[string]any)
			id, _ := op["operationId"].(string)
			if e, ok := examples[id]; ok {
				addExample(op, e)
			}
		}
	}
	return json.Marshal(whole)
})

// addExample puts an example where the specification wants it.
func addExample(op map[string]any, e example) {
	if body := within(op, "requestBody", "content", "application/json"); body != nil && e.Request != nil {
		body["example"] = e.Request
	}
	if said := within(op, "responses", strconv.Itoa(e.Status), "content", e.Kind); said != nil && e.Response != nil {
		said["example"] = e.Response
	}
}

// within follows names down; nil where there is none.
func within(m map[string]any, names ...string) map[string]any {
	for _, name := range names {
		m, _ = m[name].(map[string]any)
	}
	return m
}
