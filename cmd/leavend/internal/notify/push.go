package notify

import (
	"cmp"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/atomicfile"

	webpush "github.com/SherClockHolmes/webpush-go"
)

// Browser push (RFC 8030): a browser that shows the page over TLS hands us an
// address at its maker's push service. What we send there is encrypted for that
// browser alone (RFC 8291) and signed with a key of this daemon (RFC 8292), so
// the service learns that there was a message and how long it is, and no more.

// PushAddress is the address of the recipient that is all browsers together.
const PushAddress = "push:"

// Device is one browser that wants to be told.
type Device struct {
	Endpoint string    `json:"endpoint"` // at its push service; a secret, for who has it can knock there
	P256dh   string    `json:"p256dh"`   // the browser's public key, base64url
	Auth     string    `json:"auth"`     // its shared secret, base64url
	Name     string    `json:"name,omitempty"`
	Added    time.Time `json:"added"`
}

// Devices are the browsers that want to be told. They are a Sender: a message
// goes to each of them.
type Devices struct {
	memory    StateStore
	keys      pushKeys
	contact   string
	client    *http.Client
	localPush bool // a test's push service is on this machine

	mu        sync.Mutex // guards what follows
	list      []Device
	delivered map[string]map[string]bool // by message, the endpoints that have it already
}

// pushKeys are this daemon's key pair, as RFC 8292 wants it.
type pushKeys struct {
	Public  string `json:"public"`
	Private string `json:"private"`
}

// Bounds of what is kept.
const (
	mostDevices        = 20
	devicesState       = "push devices"
	messagesRemembered = 50
)

// ErrNoPushAddress refuses what is no address of a push service.
var ErrNoPushAddress = errors.New("this is no address of a push service: it begins with https:// and names a host in the internet")

// ErrBadKeys refuses keys that are none.
var ErrBadKeys = errors.New("the browser's keys cannot be read")

// OpenDevices reads the devices that the memory knows, and the key pair in
// keyFile, which is made at the first start and readable by us alone. contact
// is an address for the push services' keepers, an https: or mailto: URL.
func OpenDevices(ctx context.Context, memory StateStore, keyFile, contact string) (*Devices, error) {
	d := &Devices{memory: memory, contact: contact, delivered: map[string]map[string]bool{}, client: &http.Client{
		// A redirect would carry the message to an address that no browser subscribed from.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	var err error
	if d.keys, err = readPushKeys(keyFile); err != nil {
		return nil, fmt.Errorf("notify: push key: %w", err)
	}
	if _, err := memory.State(ctx, devicesState, &d.list); err != nil {
		return nil, fmt.Errorf("notify: devices: %w", err)
	}
	return d, nil
}

// readPushKeys reads the key pair, or makes one.
func readPushKeys(file string) (pushKeys, error) {
	var k pushKeys
	b, err := os.ReadFile(file)
	if err == nil {
		if err := json.Unmarshal(b, &k); err != nil || k.Public == "" || k.Private == "" {
			return k, fmt.Errorf("%s holds no key pair; delete it, and the browsers have to be set up again", file)
		}
		return k, nil
	}
	if !errors.Is(err, os.ErrNotExist) {
		return k, err
	}
	if k.Private, k.Public, err = webpush.GenerateVAPIDKeys(); err != nil {
		return k, err
	}
	if b, err = json.Marshal(k); err != nil {
		return k, err
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o750); err != nil {
		return k, err
	}
	return k, atomicfile.Write(file, b, 0o600)
}

// Key is the public key that a browser must be given, base64url.
func (d *Devices) Key() string { return d.keys.Public }

// Any reports whether there is any device.
func (d *Devices) Any() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.list) > 0
}

// Add keeps a device; one of the same endpoint is replaced. It is on the disk
// when Add returns.
func (d *Devices) Add(ctx context.Context, one Device) error {
	if err := d.check(one); err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	list := slices.DeleteFunc(slices.Clone(d.list), func(o Device) bool { return o.Endpoint == one.Endpoint })
	list = append(list, one)
	if len(list) > mostDevices {
		list = list[len(list)-mostDevices:] // the oldest has most likely gone
	}
	return d.save(ctx, list)
}

// Remove forgets a device.
func (d *Devices) Remove(ctx context.Context, endpoint string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	list := slices.DeleteFunc(slices.Clone(d.list), func(o Device) bool { return o.Endpoint == endpoint })
	if len(list) == len(d.list) {
		return nil
	}
	return d.save(ctx, list)
}

// save stores the list. The caller holds mu.
func (d *Devices) save(ctx context.Context, list []Device) error {
	if err := d.memory.SetState(ctx, devicesState, list); err != nil {
		return fmt.Errorf("notify: devices: %w", err)
	}
	d.list = list
	return nil
}

// check refuses an endpoint that would have the daemon send a request inside the
// home network, and keys that are malformed.
func (d *Devices) check(one Device) error {
	u, err := url.Parse(one.Endpoint)
	if err != nil || len(one.Endpoint) > 2048 || u.User != nil {
		return ErrNoPushAddress
	}
	host := u.Hostname()
	outdoors := u.Scheme == "https" && net.ParseIP(host) == nil && strings.Contains(strings.TrimSuffix(host, "."), ".") &&
		!strings.HasSuffix(host, ".local") && !strings.HasSuffix(host, ".localhost")
	if !outdoors && !d.localPush {
		return ErrNoPushAddress
	}
	for _, k := range []struct {
		text string
		size int
	}{{one.P256dh, 65}, {one.Auth, 16}} { // RFC 8291, sections 3.1 and 3.2
		b, err := base64.RawURLEncoding.DecodeString(strings.TrimRight(k.text, "="))
		if err != nil || len(b) != k.size {
			return ErrBadKeys
		}
	}
	return nil
}

// pushed is what a browser's service worker gets.
type pushed struct {
	Title  string `json:"title"`
	Text   string `json:"text"`
	Link   string `json:"link,omitempty"`
	Tag    string `json:"tag,omitempty"` // a later message of the same tag takes the earlier one's place
	Urgent bool   `json:"urgent,omitempty"`
}

// longestPush keeps a message within one record of 4,096 bytes with its padding
// and header (RFC 8188, RFC 8291 section 4).
const longestPush = 3500

// payload puts a message into a browser's terms.
func payload(l Message) ([]byte, error) {
	p := pushed{Title: l.Title, Text: l.Text, Link: l.Link, Tag: cmp.Or(l.Vessel, "house") + "/" + string(l.Kind), Urgent: l.Urgent}
	for {
		b, err := json.Marshal(p)
		if err != nil || len(b) <= longestPush {
			return b, err
		}
		r := []rune(p.Text)
		p.Text = string(r[:len(r)*3/4]) + "…"
	}
}

// Send gives a message to each device that does not have it yet. A device whose
// push service knows it no more is forgotten. It fails when one may be reached
// later; what the others have is not sent to them again.
func (d *Devices) Send(ctx context.Context, l Message) error {
	body, err := payload(l)
	if err != nil {
		return &Failure{Refused, "the message cannot be written as JSON"}
	}
	d.mu.Lock()
	list := slices.Clone(d.list)
	d.mu.Unlock()
	var last error
	for _, one := range list {
		if d.has(l.ID, one.Endpoint) {
			continue
		}
		err := d.push(ctx, one, l, body)
		var f *Failure
		switch {
		case err == nil:
			d.mark(l.ID, one.Endpoint)
		case errors.As(err, &f) && f.Fate == Address:
			if err := d.Remove(ctx, one.Endpoint); err != nil {
				last = &Failure{Passing, "a browser that is gone could not be forgotten"}
			}
		case errors.As(err, &f) && f.Fate == Refused:
		default:
			last = err
		}
	}
	if last == nil {
		d.forget(l.ID)
	}
	return last
}

// push sends to one device.
func (d *Devices) push(ctx context.Context, one Device, l Message, body []byte) error {
	o := &webpush.Options{
		HTTPClient: d.client, Subscriber: d.contact, TTL: int(life(l.Kind).Seconds()), Urgency: webpush.UrgencyNormal,
		VAPIDPublicKey: d.keys.Public, VAPIDPrivateKey: d.keys.Private,
	}
	if l.Urgent || needsAck(l.Kind) {
		o.Urgency = webpush.UrgencyHigh
	}
	to := &webpush.Subscription{Endpoint: one.Endpoint, Keys: webpush.Keys{P256dh: one.P256dh, Auth: one.Auth}}
	r, err := webpush.SendNotificationWithContext(ctx, body, to, o)
	if err != nil {
		return failure(err)
	}
	defer r.Body.Close()
	switch {
	case r.StatusCode < 300:
		return nil
	case r.StatusCode == http.StatusNotFound || r.StatusCode == http.StatusGone: // RFC 8030, sections 7.3 and 8.3
		return &Failure{Address, "the browser is gone"}
	case r.StatusCode == http.StatusUnauthorized || r.StatusCode == http.StatusForbidden:
		return &Failure{Passing, fmt.Sprintf("its push service answers %d: it does not accept this daemon's key", r.StatusCode)}
	}
	return ofStatus(r.StatusCode)
}

func (d *Devices) has(message, endpoint string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.delivered[message][endpoint]
}

// mark remembers that a device has a message. What is in mind is bounded: a
// message that is forgotten too early comes twice, which is allowed.
func (d *Devices) mark(message, endpoint string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.delivered) > messagesRemembered {
		clear(d.delivered)
	}
	if d.delivered[message] == nil {
		d.delivered[message] = map[string]bool{}
	}
	d.delivered[message][endpoint] = true
}

func (d *Devices) forget(message string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.delivered, message)
}
