package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"log/slog"
	"math"
	"net/http"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web/page"
)

// The first picture must not wait for a script. The shelf with its vessels, at
// their level and with each one's hour, stands in the document itself, and so
// does what the kitchen says now: the script finds it there and need not ask
// first. The drawings are templates that the script clones as well.

// index is the document with what is known.
type index struct {
	t      *template.Template
	begin  template.JS
	policy string
}

// newIndex makes the document of index.html and the script within it, minified.
func newIndex(document, begin []byte) (*index, error) {
	t, err := template.New("index").Parse(string(document))
	if err != nil {
		return nil, fmt.Errorf("web: index.html: %w", err)
	}
	return &index{t: t, begin: template.JS(begin), policy: policyFor(begin)}, nil
}

// policyFor allows the one script that stands in the document, by its sum.
func policyFor(script []byte) string {
	sum := sha256.Sum256(script)
	return strings.Replace(policy, "script-src 'self'", "script-src 'self' 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", 1)
}

// languageCookie keeps the language that a visitor chose under Display.
const languageCookie = "leavend_language"

// readerOf is how a visitor reads, as far as the request tells. What the
// visitor chose in units is known to the script alone.
func readerOf(r *http.Request) text.Reader {
	accept := r.Header.Get("Accept-Language")
	reader := text.Reader{Language: text.Match(accept), Hours12: strings.HasPrefix(accept, "en-US")}
	if c, err := r.Cookie(languageCookie); err == nil {
		for _, code := range text.Languages() {
			if c.Value == code {
				reader.Language = code
			}
		}
	}
	return reader
}

// document is what fills the template.
type document struct {
	Language  string
	Languages template.JS
	Begin     template.JS
	Screens   []label
	Banners   []label
	Vessels   []skeleton
	Drawings  []drawing
	Known     template.JS
}

// label is a text with the name of what it belongs to.
type label struct{ Name, Text string }

// skeleton is what the document says of one vessel until the script does.
type skeleton struct {
	ID, Name                        string
	Face                            Face
	Stage, Label, Hour, Range, Wait string
	Long, Half                      bool // an hour with a day before it, or with am or pm behind it
	Do                              string
	Press                           Press
	Button                          string // what stands on it; empty while what was pressed can be taken back
	Facts                           []string
	Drawing                         drawing
}

var screens = []string{"now", "curve", "feeds", "plan", "mat", "setup"}

// fill makes the document's content for a reader. Without a kitchen it says
// nothing of one.
func (x *index) fill(reader text.Reader, k *Snapshot) (document, error) {
	d := document{Language: reader.Language, Begin: x.begin, Drawings: []drawing{blank(Jar), blank(Bowl)}}
	var languages []map[string]string
	for _, code := range text.Languages() {
		languages = append(languages, map[string]string{"code": code, "name": text.Say("language").In(text.Reader{Language: code})})
	}
	b, err := json.Marshal(languages)
	if err != nil {
		return d, fmt.Errorf("web: languages: %w", err)
	}
	d.Languages = template.JS(b) // encoding/json escapes what would end a script
	for _, name := range screens {
		d.Screens = append(d.Screens, label{name, text.Say("screen." + name).In(reader)})
	}
	if k == nil {
		return d, nil
	}
	if b, err = encode(*k); err != nil {
		return d, err
	}
	d.Known = template.JS(b)
	reader.Now, reader.Zone = k.At, zoneOf(k.Zone)
	for _, v := range k.Vessels {
		d.Vessels = append(d.Vessels, v.skeleton(reader, k.At))
	}
	for _, m := range k.Mats {
		if len(m.Faults) > 0 {
			d.Banners = append(d.Banners, label{"bad", text.Say("banner.fault", text.Name("name", m.Name)).In(reader)})
		}
	}
	if k.Demo {
		d.Banners = append(d.Banners, label{"plain", text.Say("banner.demo").In(reader)})
	}
	return d, nil
}

func zoneOf(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC
	}
	return zone
}

// skeleton puts what is said of a vessel into words.
func (v Vessel) skeleton(r text.Reader, now time.Time) skeleton {
	if v.Kind != Bowl {
		v.Kind = Jar
	}
	says := v.says(now)
	s := skeleton{
		ID: v.ID, Name: v.Name, Face: says.Face, Stage: says.Stage.In(r), Label: says.Label.In(r),
		Hour: says.Hour.In(r), Range: says.Range.In(r), Wait: says.Wait.In(r), Do: says.Do.In(r), Drawing: v.drawing(),
	}
	s.Long, s.Half = len([]rune(s.Hour)) > 8, strings.HasSuffix(s.Hour, "m") && r.Hours12
	s.Hour = strings.ReplaceAll(s.Hour, " ", "\u00a0")
	fed := "fed"
	if v.Kind == Bowl {
		fed = "mixed"
	}
	rise := "rise"
	if v.Ratio == nil {
		rise = "height"
	}
	for _, fact := range []string{rise, fed, "temperature"} {
		s.Facts = append(s.Facts, text.Say("fact."+fact).In(r))
	}
	if v.Mat != "" {
		s.Facts = append(s.Facts, text.Say("fact.mat").In(r))
	}
	if s.Press = says.Press; !v.undoable(now) {
		s.Button = s.Press.text(v.Kind).In(r)
	}
	return s
}

// undoable reports whether what was pressed last can still be taken back.
func (v Vessel) undoable(now time.Time) bool {
	return v.Feed != nil && v.Feed.UndoUntil.After(now) || v.Used != nil && v.Used.UndoUntil.After(now)
}

// drawing is one vessel at its level. The numbers are the picture's own units.
type drawing struct {
	Kind                     Kind
	Clip                     string // a name for what keeps the dough inside
	Left, Right, Floor, Brim int
	Level                    int // where the surface lies
}

// blank is the empty vessel, as the script clones it.
func blank(kind Kind) drawing {
	d := drawing{Kind: kind, Clip: "inside-" + string(kind), Left: 15, Right: 105, Floor: 150, Brim: 30, Level: 150}
	if kind == Bowl {
		d.Left, d.Right, d.Floor, d.Brim, d.Level = 14, 146, 110, 34, 110
	}
	return d
}

// drawing shows a vessel at its present level.
func (v Vessel) drawing() drawing {
	d := blank(v.Kind)
	d.Clip = "frame-" + v.ID
	if v.Height == nil || !given(v.InsideMM) || math.IsNaN(float64(v.Height.Value)) {
		return d
	}
	share := float64(v.Height.Value) / float64(v.InsideMM)
	d.Level = max(d.Brim-14, d.Floor-int(math.Round(min(2, share)*float64(d.Floor-d.Brim))))
	return d
}

// given reports whether a number is known and not nought.
func given(r Real) bool { return r != 0 && !math.IsNaN(float64(r)) && !math.IsInf(float64(r), 0) }

// getIndex answers with the document. Who may not read gets it without what is
// known.
func (s *Server) getIndex(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD", http.StatusMethodNotAllowed)
		return
	}
	x, reader := s.index, readerOf(r)
	var known *Snapshot
	if s.sessions.rights(r).Read {
		known = new(s.snaps.take())
	}
	data, err := x.fill(reader, known)
	if err != nil {
		// A kitchen that cannot be told leaves a document that asks for itself,
		// and gets the error.
		s.log.Error("web: the document says nothing of the kitchen", slog.Any("error", err))
		data, _ = x.fill(reader, nil)
	}
	var b bytes.Buffer
	if err := x.t.Execute(&b, data); err != nil {
		s.writeProblem(w, r, fmt.Errorf("web: index.html: %w", err))
		return
	}
	f := page.NewFile("index.html", b.Bytes())
	w.Header().Set("Content-Security-Policy", x.policy)
	w.Header().Set("Vary", "Cookie, Accept-Encoding, Accept-Language")
	f.Answer(w, r)
}
