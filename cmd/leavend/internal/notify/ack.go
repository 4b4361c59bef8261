package notify

import (
	"cmp"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"
)

// AckPath is where the handler of links must be mounted.
const AckPath = "/ack/"

// ackButton is what the button says, on the page of a link and in a message of
// a service that has buttons.
const ackButton = "I have seen it"

// linkLife is how long a link can be used.
const linkLife = 24 * time.Hour

// ticket is what a link lets its holder do: end one ask, of one vessel, until a
// certain time. It opens nothing else.
type ticket struct {
	Ask   string `json:"a"`
	At    int64  `json:"t"` // of the notice, so that it does not end a later one
	Until int64  `json:"u"`
}

var errLink = errors.New("this link is no longer good, or never was")

// link makes a link for a notice that is said again; "" where there is none.
func (n *Notifier) link(note Notice, _ string, now time.Time) string {
	if n.o.Link == "" || note.Ask == "" {
		return ""
	}
	data, err := json.Marshal(ticket{note.Ask, note.At.Unix(), now.Add(linkLife).Unix()})
	if err != nil {
		return ""
	}
	text := base64.RawURLEncoding
	return strings.TrimSuffix(n.o.Link, "/") + AckPath + text.EncodeToString(data) + "." + text.EncodeToString(n.seal(data))
}

func (n *Notifier) seal(data []byte) []byte {
	m := hmac.New(sha256.New, n.key)
	m.Write([]byte("acknowledge "))
	m.Write(data)
	return m.Sum(nil)
}

// read checks a link's token.
func (n *Notifier) read(token string) (ticket, error) {
	var p ticket
	text := base64.RawURLEncoding
	body, seal, _ := strings.Cut(token, ".")
	data, err := text.DecodeString(body)
	if err != nil || len(token) > 1024 {
		return p, errLink
	}
	mac, err := text.DecodeString(seal)
	if err != nil || !hmac.Equal(mac, n.seal(data)) {
		return p, errLink
	}
	if err := json.Unmarshal(data, &p); err != nil || n.o.Now().Unix() > p.Until {
		return p, errLink
	}
	return p, nil
}

// ServeHTTP answers links. It needs no login: the link is the right. A GET
// changes nothing, because messengers fetch links to show a preview; it shows
// a button.
func (n *Notifier) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Security-Policy", "default-src 'none'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
	if r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodPost {
		h.Set("Allow", "GET, HEAD, POST")
		http.Error(w, "Use the button on the page.", http.StatusMethodNotAllowed)
		return
	}
	p, err := n.read(strings.TrimPrefix(r.URL.Path, AckPath))
	if err != nil {
		w.WriteHeader(http.StatusGone)
		n.show(w, ackPage{Text: "This link is no longer good. Open the page of leavend instead."})
		return
	}
	note, open := n.asked(p)
	switch {
	case !open:
		n.show(w, ackPage{Text: "Nobody is being asked any more. There is nothing to do."})
	case r.Method == http.MethodPost:
		n.mu.Lock()
		n.came(note.Vessel)
		err := n.save(r.Context(), nil)
		n.mu.Unlock()
		if err != nil {
			n.o.Log.Warn("an acknowledgement could not be stored", "err", err)
		}
		n.show(w, ackPage{Text: "Thank you. It will not be said again."})
	default:
		n.show(w, ackPage{Text: n.o.Words.Say(note, n.o.Now()).Text, Button: ackButton})
	}
}

// asked returns what a ticket is about, if it is still asked.
func (n *Notifier) asked(p ticket) (Notice, bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	a := n.state.Asks[p.Ask]
	if a == nil || a.Notice.At.Unix() != p.At {
		return Notice{}, false
	}
	return a.Notice, true
}

// Asked is something that is said again until somebody comes.
type Asked struct {
	ID     string // for Seen
	Vessel string
	Text   string
	Since  time.Time
}

// Asks returns what is said again now, oldest first.
func (n *Notifier) Asks() []Asked {
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.o.Now()
	all := []Asked{}
	for key, a := range n.state.Asks {
		if a.Notice.stale(now) || !n.sounds(a) {
			continue
		}
		all = append(all, Asked{strings.ReplaceAll(key, "/", "~"), a.Notice.Vessel, n.o.Words.Say(a.Notice, now).Text, a.Notice.At})
	}
	slices.SortFunc(all, func(a, b Asked) int { return cmp.Or(a.Since.Compare(b.Since), strings.Compare(a.ID, b.ID)) })
	return all
}

// sounds reports whether anybody would hear of an ask again. The caller holds
// mu.
func (n *Notifier) sounds(a *ask) bool {
	return slices.ContainsFunc(n.people, func(p Recipient) bool {
		s, told := a.Said[p.Name]
		return told && p.RepeatEvery > 0 && s.Times < p.Repeats
	})
}

// ErrNotAsked says that nobody is being asked what was to be ended.
var ErrNotAsked = errors.New("nobody is being asked that any more")

// Seen ends what is said again, as a link in a message does. It is on the disk
// when it returns.
func (n *Notifier) Seen(ctx context.Context, id string) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	a := n.state.Asks[strings.ReplaceAll(id, "~", "/")]
	if a == nil {
		return ErrNotAsked
	}
	n.came(a.Notice.Vessel)
	return n.save(ctx, nil)
}

// SeenOf ends all that is said again about a vessel or another subject.
func (n *Notifier) SeenOf(ctx context.Context, subject string) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, a := range n.state.Asks {
		if a.Notice.Vessel == subject {
			n.came(subject)
			return n.save(ctx, nil)
		}
	}
	return ErrNotAsked
}

type ackPage struct{ Text, Button string }

func (n *Notifier) show(w http.ResponseWriter, p ackPage) {
	const page = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>leavend</title><p>{{.Text}}</p>{{with .Button}}<form method="post"><button>{{.}}</button></form>{{end}}</html>
`
	if err := template.Must(template.New("ack").Parse(page)).Execute(w, p); err != nil {
		n.o.Log.Debug("an answer could not be written", "err", err)
	}
}
