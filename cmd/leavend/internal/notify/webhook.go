package notify

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// webhook posts messages as JSON, signed as the Standard Webhooks
// specification 1.0 says (github.com/standard-webhooks/standard-webhooks).
type webhook struct {
	address string
	key     []byte // nil is unsigned
	client  *http.Client
}

func newWebhook(u *url.URL, key string) (Sender, error) {
	w := &webhook{address: u.String(), client: &http.Client{
		Timeout: sendLimit,
		// A POST that is sent elsewhere may hand the message to a stranger.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	if u.Host == "" {
		return nil, &Failure{Address, `the address has no host; it looks like "https://host/path"`}
	}
	if key == "" {
		return w, nil
	}
	var err error
	w.key, err = signingKey(key)
	return w, err
}

// signingKey reads a key: "whsec_" and base64, as the specification writes
// them, or any other text as it stands.
func signingKey(key string) ([]byte, error) {
	coded, ok := strings.CutPrefix(key, "whsec_")
	if !ok {
		return []byte(key), nil
	}
	b, err := base64.StdEncoding.DecodeString(coded)
	if err != nil {
		return nil, &Failure{Address, "the key begins with whsec_ and is not base64 after that"}
	}
	return b, nil
}

// webhookBody is what a webhook's receiver gets.
type webhookBody struct {
	Type      string      `json:"type"`      // "leavend." and the kind of message
	Timestamp time.Time   `json:"timestamp"` // of what it tells
	Data      webhookData `json:"data"`
}

type webhookData struct {
	Vessel string `json:"vessel,omitempty"`
	Title  string `json:"title"`
	Text   string `json:"text"`
	Urgent bool   `json:"urgent"`
	Seen   string `json:"seen_url,omitempty"`
}

func (w *webhook) Send(ctx context.Context, l Message) error {
	data, err := json.Marshal(webhookBody{"leavend." + string(l.Kind), l.At, webhookData{l.Vessel, l.Title, l.Text, l.Urgent, l.Link}})
	if err != nil {
		return &Failure{Refused, "it could not be written as JSON"}
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, w.address, bytes.NewReader(data))
	if err != nil {
		return &Failure{Address, "the address is none"}
	}
	at := time.Now().Unix()
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "leavend")
	r.Header.Set("webhook-id", l.ID)
	r.Header.Set("webhook-timestamp", strconv.FormatInt(at, 10))
	if w.key != nil {
		r.Header.Set("webhook-signature", sign(w.key, l.ID, at, data))
	}
	res, err := w.client.Do(r)
	if err != nil {
		return failure(err)
	}
	defer res.Body.Close()
	_, _ = io.CopyN(io.Discard, res.Body, 64<<10) // so that the connection can be used again
	if res.StatusCode < 200 || res.StatusCode > 299 {
		return ofStatus(res.StatusCode)
	}
	return nil
}

// sign is the signature of a body: HMAC-SHA256 of "id.timestamp.body".
func sign(key []byte, id string, at int64, body []byte) string {
	m := hmac.New(sha256.New, key)
	m.Write([]byte(id + "." + strconv.FormatInt(at, 10) + "."))
	m.Write(body)
	return "v1," + base64.StdEncoding.EncodeToString(m.Sum(nil))
}
