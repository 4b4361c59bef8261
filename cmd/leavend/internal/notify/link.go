package notify

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// linkLife is how long a link can be used.
const linkLife = 24 * time.Hour

// ticket is what a link lets its holder do: end one ask, of one vessel, until a
// certain time. It opens nothing else.
type ticket struct {
	AckKey string `json:"a"`
	At     int64  `json:"t"` // of the notice, so that it does not end a later one
	Until  int64  `json:"u"`
}

var errLink = errors.New("this link is no longer good, or never was")

// links makes and checks the links by which a message is acknowledged.
type links struct {
	base string // address of the page; "" makes no links
	now  func() time.Time
	key  []byte // signs links
}

// keyLength is that of the key which signs links, in bytes.
const keyLength = 32

// load reads the key, or makes one. Without a key on the disk, links do not
// outlive this run, which unsaved tells.
func (k *links) load(ctx context.Context, memory StateStore) (unsaved, err error) {
	known, err := memory.State(ctx, stateName+" key", &k.key)
	if err != nil {
		return nil, fmt.Errorf("load the key of links: %w", err)
	}
	if known && len(k.key) == keyLength {
		return nil, nil
	}
	k.key = make([]byte, keyLength)
	_, _ = rand.Read(k.key) // it never fails
	return memory.SetState(ctx, stateName+" key", k.key), nil
}

// of makes a link for a notice that is said again; "" where there is none.
func (k *links) of(note Notice, now time.Time) string {
	if k.base == "" || note.AckKey == "" {
		return ""
	}
	data, err := json.Marshal(ticket{note.AckKey, note.At.Unix(), now.Add(linkLife).Unix()})
	if err != nil {
		return ""
	}
	text := base64.RawURLEncoding
	return strings.TrimSuffix(k.base, "/") + AckPath + text.EncodeToString(data) + "." + text.EncodeToString(k.seal(data))
}

func (k *links) seal(data []byte) []byte {
	m := hmac.New(sha256.New, k.key)
	m.Write([]byte("acknowledge "))
	m.Write(data)
	return m.Sum(nil)
}

// read checks a link's token.
func (k *links) read(token string) (ticket, error) {
	var p ticket
	text := base64.RawURLEncoding
	body, seal, _ := strings.Cut(token, ".")
	data, err := text.DecodeString(body)
	if err != nil || len(token) > 1024 {
		return p, errLink
	}
	mac, err := text.DecodeString(seal)
	if err != nil || !hmac.Equal(mac, k.seal(data)) {
		return p, errLink
	}
	if err := json.Unmarshal(data, &p); err != nil || k.now().Unix() > p.Until {
		return p, errLink
	}
	return p, nil
}
