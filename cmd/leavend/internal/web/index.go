package web

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
)

// The first picture must not wait for a script. The page's frame, with the
// names of the vessels and what the kitchen says now, is in the document
// itself; the script finds it there and need not ask first.

// screen is one entry of the page's navigation.
type screen struct{ Name, Label string }

var (
	screensInWords = later(`(?m)^  screens: \{ (.*) \},$`)
	oneScreen      = later(`(\w+): '([^']*)'`)
)

// screensOf reads the screens and their names from the file of words, the only
// place where they stand.
func screensOf(words []byte) ([]screen, error) {
	m := screensInWords().FindSubmatch(words)
	if m == nil {
		return nil, fmt.Errorf("web: words.js does not name the screens in one line")
	}
	var all []screen
	for _, s := range oneScreen().FindAllSubmatch(m[1], -1) {
		all = append(all, screen{string(s[1]), string(s[2])})
	}
	return all, nil
}

// index is the document with what is known.
type index struct {
	t       *template.Template
	screens []screen
}

func newIndex(document, words []byte) (*index, error) {
	t, err := template.New("index").Parse(string(document))
	if err != nil {
		return nil, fmt.Errorf("web: index.html: %w", err)
	}
	screens, err := screensOf(words)
	return &index{t, screens}, err
}

// getIndex answers with the document. Who may not read gets it without what is
// known.
func (s *Server) getIndex(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD", http.StatusMethodNotAllowed)
		return
	}
	data := struct {
		Screens []screen
		Vessels []Vessel
		Known   template.JS
	}{Screens: s.page.index.screens}
	if s.rights(r).Read {
		// A kitchen that cannot be told leaves a document that asks for itself,
		// and gets the error. encoding/json escapes what would end a script.
		if known, err := s.snapshot(); err == nil {
			data.Vessels, data.Known = s.house.Now().Vessels, template.JS(known)
		}
	}
	var b bytes.Buffer
	if err := s.page.index.t.Execute(&b, data); err != nil {
		s.writeProblem(w, r, fmt.Errorf("web: index.html: %w", err))
		return
	}
	f := newPageFile("index.html", b.Bytes())
	w.Header().Set("Vary", "Cookie, Accept-Encoding")
	f.answer(w, r)
}
