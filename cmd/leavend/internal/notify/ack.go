package notify

import (
	"cmp"
	"context"
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
	p, err := n.links.read(strings.TrimPrefix(r.URL.Path, AckPath))
	if err != nil {
		w.WriteHeader(http.StatusGone)
		n.show(w, ackPage{Text: "This link is no longer good. Open the page of leavend instead."})
		return
	}
	note, open := n.pending(p)
	switch {
	case !open:
		n.show(w, ackPage{Text: "This message is not repeated any more. There is nothing to do."})
	case r.Method == http.MethodPost:
		n.mu.Lock()
		n.rules.acknowledge(note.Vessel)
		err := n.save(r.Context(), nil)
		n.mu.Unlock()
		if err != nil {
			n.o.Log.Warn("an acknowledgement could not be stored", "err", err)
		}
		n.show(w, ackPage{Text: "Thank you. It will not be said again."})
	default:
		n.show(w, ackPage{Text: n.o.Renderer.Render(note, n.o.Now()).Text, Button: ackButton})
	}
}

// pending returns what a ticket is about, if it is still asked.
func (n *Notifier) pending(p ticket) (Notice, bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	a := n.rules.state.PendingAcks[p.AckKey]
	if a == nil || a.Notice.At.Unix() != p.At {
		return Notice{}, false
	}
	return a.Notice, true
}

// PendingAck is a message that is repeated until it is acknowledged.
type PendingAck struct {
	ID     string // for Seen
	Vessel string
	Text   string
	Since  time.Time
}

// PendingAcks returns what is said again now, oldest first.
func (n *Notifier) PendingAcks() []PendingAck {
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.o.Now()
	all := []PendingAck{}
	for key, a := range n.rules.state.PendingAcks {
		if a.Notice.stale(now) || !n.willRepeat(a) {
			continue
		}
		all = append(all, PendingAck{strings.ReplaceAll(key, "/", "~"), a.Notice.Vessel, n.o.Renderer.Render(a.Notice, now).Text, a.Notice.At})
	}
	slices.SortFunc(all, func(a, b PendingAck) int { return cmp.Or(a.Since.Compare(b.Since), strings.Compare(a.ID, b.ID)) })
	return all
}

// willRepeat reports whether an ask will be repeated for any recipient. The caller
// holds mu.
func (n *Notifier) willRepeat(a *pendingAck) bool {
	return slices.ContainsFunc(n.rules.people, func(p Recipient) bool {
		s, told := a.Repeats[p.Name]
		return told && p.RepeatEvery > 0 && s.Times < p.Repeats
	})
}

// ErrNotPending says that the message to acknowledge is not repeated any more.
var ErrNotPending = errors.New("this message is not repeated any more")

// Acknowledge ends what is said again, as a link in a message does. It is on the disk
// when it returns.
func (n *Notifier) Acknowledge(ctx context.Context, id string) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	a := n.rules.state.PendingAcks[strings.ReplaceAll(id, "~", "/")]
	if a == nil {
		return ErrNotPending
	}
	n.rules.acknowledge(a.Notice.Vessel)
	return n.save(ctx, nil)
}

// AcknowledgeSubject ends all that is said again about a vessel or another subject.
func (n *Notifier) AcknowledgeSubject(ctx context.Context, subject string) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, a := range n.rules.state.PendingAcks {
		if a.Notice.Vessel == subject {
			n.rules.acknowledge(subject)
			return n.save(ctx, nil)
		}
	}
	return ErrNotPending
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
