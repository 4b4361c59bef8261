package web

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
	"strings"
	"time"
)

// The first picture must not wait for a script. The page's frame, with the
// vessels and the hour of each one's top, and what the kitchen says now, is in
// the document itself; the script finds it there and need not ask first.

// screen is one entry of the page's navigation.
type screen struct{ Name, Label string }

// outlook is what the frame says of one vessel: its name, and when its top is
// expected or was, where that is today.
type outlook struct{ Name, Label, Hour string }

var (
	lineOfWords = later(`(?m)^  (\w+): \{ (.*) \},$`)
	oneWord     = later(`(\w+): '([^']*)'`)
)

// wordsOf reads one line of the file of words, the only place where they stand.
func wordsOf(words []byte, line string) ([]screen, error) {
	for _, m := range lineOfWords().FindAllSubmatch(words, -1) {
		if string(m[1]) != line {
			continue
		}
		var all []screen
		for _, s := range oneWord().FindAllSubmatch(m[2], -1) {
			all = append(all, screen{string(s[1]), string(s[2])})
		}
		return all, nil
	}
	return nil, fmt.Errorf("web: words.js has no line %s", line)
}

// index is the document with what is known.
type index struct {
	t       *template.Template
	screens []screen
	labels  map[string]string // of an hour, by the line of words and the kind of vessel
}

func newIndex(document, words []byte) (*index, error) {
	t, err := template.New("index").Parse(string(document))
	if err != nil {
		return nil, fmt.Errorf("web: index.html: %w", err)
	}
	x := &index{t: t, labels: map[string]string{}}
	if x.screens, err = wordsOf(words, "screens"); err != nil {
		return nil, err
	}
	for _, line := range []string{"expected", "isNow", "was"} {
		kinds, err := wordsOf(words, line)
		if err != nil {
			return nil, err
		}
		for _, k := range kinds {
			x.labels[line+k.Name] = k.Label
		}
	}
	return x, nil
}

// outlook says of a vessel what the script will say a moment later.
func (x *index) outlook(k Kitchen, v Vessel, layout string) outlook {
	line, at := "", time.Time{}
	switch {
	case !v.FridgeSince.IsZero():
	case v.Top != nil && (v.Stage == OnTop || v.Stage == OnTarget):
		line, at = "isNow", v.Top.TopAt
	case v.Top != nil:
		line, at = "was", v.Top.TopAt
	case v.Forecast != nil:
		line, at = "expected", v.Forecast.TopAt
	}
	zone, err := time.LoadLocation(k.Zone)
	if at.IsZero() || err != nil || at.In(zone).Format(time.DateOnly) != k.At.In(zone).Format(time.DateOnly) {
		return outlook{Name: v.Name}
	}
	return outlook{v.Name, x.labels[line+string(v.Kind)], at.In(zone).Format(layout)}
}

// hourLayout is how the visitor's browser writes an hour, as far as its
// language tells: what the baker chose in it is known to the script alone.
func hourLayout(acceptLanguage string) string {
	if strings.HasPrefix(acceptLanguage, "en-US") {
		return "3:04 pm"
	}
	return "15:04"
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
		Vessels []outlook
		Known   template.JS
	}{Screens: s.page.index.screens}
	if s.rights(r).Read {
		// A kitchen that cannot be told leaves a document that asks for itself,
		// and gets the error. encoding/json escapes what would end a script.
		if known, err := s.snapshot(); err == nil {
			data.Known = template.JS(known)
			k, layout := s.house.Now(), hourLayout(r.Header.Get("Accept-Language"))
			for _, v := range k.Vessels {
				data.Vessels = append(data.Vessels, s.page.index.outlook(k, v, layout))
			}
		}
	}
	var b bytes.Buffer
	if err := s.page.index.t.Execute(&b, data); err != nil {
		s.writeProblem(w, r, fmt.Errorf("web: index.html: %w", err))
		return
	}
	f := newPageFile("index.html", b.Bytes())
	w.Header().Set("Vary", "Cookie, Accept-Encoding, Accept-Language")
	f.answer(w, r)
}
