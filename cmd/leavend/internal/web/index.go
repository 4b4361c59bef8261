package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
)

// The first picture must not wait for a script. The shelf with its vessels, at
// their level and with the hour of each one's top, stands in the document
// itself, and so does what the kitchen says now: the script finds it there and
// need not ask first.

// index is the document with what is known.
type index struct {
	t        *template.Template
	words    words
	outlines outlines
	begin    template.JS
	policy   string
}

// newIndex makes the document of index.html and of what it needs of the scripts.
func newIndex(document []byte, scripts map[string][]byte) (*index, error) {
	t, err := template.New("index").Parse(string(document))
	if err != nil {
		return nil, fmt.Errorf("web: index.html: %w", err)
	}
	begin := wholeRemark().ReplaceAll(scripts[beginFile], nil)
	x := &index{t: t, words: readWords(scripts["words.js"]), begin: template.JS(begin), policy: policyFor(begin)}
	if err := x.words.need(wordsOfFrame...); err != nil {
		return nil, err
	}
	x.outlines, err = readOutlines(scripts["vessel.js"])
	return x, err
}

// hourLayout is how the visitor's browser writes an hour, as far as its
// language tells: what the baker chose in it is known to the script alone.
func hourLayout(acceptLanguage string) string {
	if strings.HasPrefix(acceptLanguage, "en-US") {
		return "3:04\u00a0pm"
	}
	return "15:04"
}

// policyFor allows the one script that stands in the document, by its sum.
func policyFor(script []byte) string {
	sum := sha256.Sum256(script)
	return strings.Replace(policy, "script-src 'self'", "script-src 'self' 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", 1)
}

// shown is what fills the document.
type shown struct {
	Begin   template.JS
	Screens []word
	Banners []word // kind and text
	Vessels []outlook
	Known   template.JS
}

// know adds what the kitchen says now.
func (x *index) know(data *shown, k Kitchen, layout string) error {
	known, err := encode(k)
	if err != nil {
		return err
	}
	data.Known = template.JS(known) // encoding/json escapes what would end a script
	t := x.teller(k, layout)
	for _, v := range k.Vessels {
		data.Vessels = append(data.Vessels, t.vessel(v))
	}
	for _, m := range k.Mats {
		if len(m.Faults) > 0 {
			data.Banners = append(data.Banners, word{"bad", x.words.say("faultBanner", "mat.name", m.Name)})
		}
	}
	if k.Demo {
		data.Banners = append(data.Banners, word{"plain", x.words.say("demo")})
	}
	return nil
}

// getIndex answers with the document. Who may not read gets it without what is
// known.
func (s *Server) getIndex(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD", http.StatusMethodNotAllowed)
		return
	}
	x := s.page.index
	data := shown{Begin: x.begin, Screens: x.words.groups["screens"]}
	if s.rights(r).Read {
		// A kitchen that cannot be told leaves a document that asks for itself,
		// and gets the error.
		if err := x.know(&data, s.kitchen(), hourLayout(r.Header.Get("Accept-Language"))); err != nil {
			s.log.Error("web: the document says nothing of the kitchen", slog.Any("error", err))
		}
	}
	var b bytes.Buffer
	if err := x.t.Execute(&b, data); err != nil {
		s.writeProblem(w, r, fmt.Errorf("web: index.html: %w", err))
		return
	}
	f := newPageFile("index.html", b.Bytes())
	w.Header().Set("Content-Security-Policy", x.policy)
	w.Header().Set("Vary", "Cookie, Accept-Encoding, Accept-Language")
	f.answer(w, r)
}
