// Package page holds the files of the page and serves them: the modules joined,
// everything minified and packed, once at the start.
package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/css"
	"github.com/tdewolff/minify/v2/js"

	"leavend/cmd/leavend/internal/text"
)

//go:embed *.js *.css *.html *.svg *.png *.webmanifest icons rare screens vendor
var embedded embed.FS

// Page serves the embedded files. They are hashed and packed once, at the
// start, so that a board does no work for a visitor who has them already.
type Page struct {
	Document []byte          // index.html, a template that is filled for each visitor
	Begin    []byte          // the script within it
	files    map[string]File // by path without the leading slash
}

// File is one file as it is sent.
type File struct {
	kind  string
	etag  string
	plain []byte
	gzip  []byte // nil where packing gains nothing
}

// notOnPage are the groups of sentences that only messages and the command
// line say, and those that a browser has of its own.
var notOnPage = []string{"message", "cli", "explained", "config", "refused", "status", "setup.propose", "check", "event", "number.decimal", "number.group", "time.weekday", "time.month", "time.date"}

// rareText are the groups of sentences that only the rare folder says, and of what
// seldom happens.
var rareText = []string{
	"new_vessel", "recipe", "feed_form", "depth", "alarm", "caution", "mat.fault", "mat.hot", "steer",
	"plan.asked", "plan.because", "plan.busy", "plan.chance", "plan.doubt", "plan.grade", "plan.grounds", "plan.kept", "plan.kind", "plan.known",
	"plan.none", "plan.risk", "plan.step", "plan.the", "plan.then", "plan.trouble", "plan.what", "plan.window",
}

// rareFolder holds the modules of screens and forms that few visits see.
const rareFolder = "rare/"

// The scripts that stand alone: the joined modules, those that few visits need,
// the few lines in the document that load the former after the first picture, and
// the service worker.
const (
	entryFile  = "app.js"
	rareFile   = "rare.js"
	beginFile  = "begin.js"
	workerFile = "worker.js"
)

// New returns the page. Its files are embedded and never change, so they are
// prepared once, however often the daemon starts again in one process.
func New() (*Page, error) { return prepared() }

var prepared = sync.OnceValues(prepare)

func prepare() (*Page, error) {
	p := &Page{files: map[string]File{}}
	all := sha256.New()
	modules, err := p.addEmbedded(all)
	if err != nil {
		return nil, fmt.Errorf("web: read the embedded page: %w", err)
	}
	if p.Begin, err = minified(js.Minify, modules[beginFile]); err != nil {
		return nil, err
	}
	delete(modules, beginFile) // in the document
	if err := p.addScripts(modules); err != nil {
		return nil, err
	}
	if err := p.addText(all); err != nil {
		return nil, err
	}
	names := slices.DeleteFunc(slices.Sorted(maps.Keys(p.files)), func(n string) bool {
		return n == workerFile || strings.HasSuffix(n, ".txt")
	})
	shell, err := json.Marshal(map[string]any{"version": hex.EncodeToString(all.Sum(nil)[:8]), "files": names})
	if err != nil {
		return nil, fmt.Errorf("web: list the embedded page: %w", err)
	}
	p.files["shell.json"] = NewFile("shell.json", shell)
	return p, nil
}

// addEmbedded adds the files that are sent as they are, and returns the modules,
// which are not. The document is made for each visitor.
func (p *Page) addEmbedded(all hash.Hash) (modules map[string][]byte, err error) {
	modules = map[string][]byte{}
	return modules, fs.WalkDir(embedded, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := embedded.ReadFile(name)
		if err != nil {
			return err
		}
		all.Write(b)
		switch {
		case strings.HasSuffix(name, ".js") && name != workerFile && !strings.HasPrefix(name, "vendor/"):
			modules[name] = b
			return nil
		case name == "index.html":
			p.Document = b
			return nil
		case name == "style.css":
			if b, err = minified(css.Minify, b); err != nil {
				return err
			}
		}
		p.files[name] = NewFile(name, b)
		return nil
	})
}

// addScripts joins the modules.
func (p *Page) addScripts(modules map[string][]byte) error {
	usual, rare, err := joinModules(modules, entryFile)
	if err != nil {
		return err
	}
	for name, joined := range map[string][]byte{entryFile: usual, rareFile: rare} {
		if joined, err = minified(js.Minify, joined); err != nil {
			return err
		}
		p.files[name] = NewFile(name, joined)
	}
	return nil
}

// addText adds the sentences of each language.
func (p *Page) addText(all hash.Hash) error {
	for _, code := range text.Languages() {
		usual, rare, err := text.Page(code, notOnPage, rareText)
		if err != nil {
			return err
		}
		p.files["text/"+code+".json"] = NewFile("x.json", usual)
		p.files["text/"+code+"-rare.json"] = NewFile("x.json", rare)
		all.Write(append(usual, rare...))
	}
	return nil
}

// minified is a script or a style sheet without what only its authors read: a
// phone need not carry it.
func minified(by minify.MinifierFunc, source []byte) ([]byte, error) {
	var b bytes.Buffer
	if err := by(minify.New(), &b, bytes.NewReader(source), nil); err != nil {
		return nil, fmt.Errorf("web: minify the page: %w", err)
	}
	return b.Bytes(), nil
}

func NewFile(name string, b []byte) File {
	sum := sha256.Sum256(b)
	f := File{kind: kindOf(name), etag: `"` + hex.EncodeToString(sum[:12]) + `"`, plain: b}
	if path.Ext(name) == ".woff2" || path.Ext(name) == ".png" {
		return f // packed already
	}
	var packed bytes.Buffer
	z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression) // the level is a constant of the package
	_, _ = z.Write(b)
	_ = z.Close()
	if packed.Len() < len(b) {
		f.gzip = packed.Bytes()
	}
	return f
}

// kindOf does not ask the system's table of types, which differs between
// machines: a script served as plain text does not run.
func kindOf(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".json":
		return "application/json"
	case ".webmanifest":
		return "application/manifest+json"
	case ".woff2":
		return "font/woff2"
	case ".txt":
		return "text/plain; charset=utf-8"
	}
	if t := mime.TypeByExtension(path.Ext(name)); t != "" {
		return t
	}
	return "application/octet-stream"
}

// ServeHTTP answers GET and HEAD. Everything is revalidated by ETag: a new
// daemon must never run with half of an old page.
func (p *Page) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD", http.StatusMethodNotAllowed)
		return
	}
	f, ok := p.files[strings.TrimPrefix(r.URL.Path, "/")]
	if !ok {
		http.Error(w, "There is no such page here.", http.StatusNotFound)
		return
	}
	w.Header().Set("Vary", "Accept-Encoding")
	f.Answer(w, r)
}

// Answer sends a file, or says that the visitor has it.
func (f File) Answer(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("Cache-Control", "no-cache")
	h.Set("ETag", f.etag)
	if matches(r.Header.Get("If-None-Match"), f.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	body := f.plain
	if f.gzip != nil && acceptsGzip(r.Header.Get("Accept-Encoding")) {
		h.Set("Content-Encoding", "gzip")
		body = f.gzip
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(http.StatusOK)
	if r.Method == http.MethodGet {
		_, _ = w.Write(body)
	}
}

func matches(header, etag string) bool {
	for one := range strings.SplitSeq(header, ",") {
		one = strings.TrimPrefix(strings.TrimSpace(one), "W/")
		if one == etag || one == "*" {
			return true
		}
	}
	return false
}

func acceptsGzip(header string) bool {
	for one := range strings.SplitSeq(header, ",") {
		name, params, _ := strings.Cut(strings.TrimSpace(one), ";")
		if name == "gzip" && strings.ReplaceAll(params, " ", "") != "q=0" {
			return true
		}
	}
	return false
}
