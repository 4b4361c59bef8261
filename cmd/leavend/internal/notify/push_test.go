package notify

import (
	"bytes"
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

var b64 = base64.RawURLEncoding

// browser is the other end of a push message: it decrypts as RFC 8291 says,
// with the standard library alone.
type browser struct {
	key  *ecdh.PrivateKey
	auth []byte
}

func newBrowser(t *testing.T) *browser {
	t.Helper()
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{key: key, auth: make([]byte, 16)}
	_, _ = rand.Read(b.auth)
	return b
}

func (b *browser) device(endpoint string) Device {
	return Device{Endpoint: endpoint, P256dh: b64.EncodeToString(b.key.PublicKey().Bytes()), Auth: b64.EncodeToString(b.auth)}
}

// open decrypts a body of one record: RFC 8291, section 3.4, and RFC 8188,
// section 2.
func (b *browser) open(body []byte) ([]byte, error) {
	if len(body) < 21 || len(body) < 21+int(body[20]) {
		return nil, errors.New("no header")
	}
	salt, record, sender := body[:16], binary.BigEndian.Uint32(body[16:20]), body[21:21+int(body[20])]
	text := body[21+int(body[20]):]
	if len(text) > int(record) || len(body) > 4096 {
		return nil, fmt.Errorf("%d bytes are more than one record of %d", len(text), record)
	}
	public, err := ecdh.P256().NewPublicKey(sender)
	if err != nil {
		return nil, err
	}
	secret, err := b.key.ECDH(public)
	if err != nil {
		return nil, err
	}
	info := "WebPush: info\x00" + string(b.key.PublicKey().Bytes()) + string(sender)
	ikm, err := hkdf.Key(sha256.New, secret, b.auth, info, 32)
	if err != nil {
		return nil, err
	}
	cek, err := hkdf.Key(sha256.New, ikm, salt, "Content-Encoding: aes128gcm\x00", 16)
	if err != nil {
		return nil, err
	}
	nonce, err := hkdf.Key(sha256.New, ikm, salt, "Content-Encoding: nonce\x00", 12)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(cek)
	if err != nil {
		return nil, err
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	plain, err := gcm.Open(nil, nonce, text, nil)
	if err != nil {
		return nil, err
	}
	plain = bytes.TrimRight(plain, "\x00")
	if len(plain) == 0 || plain[len(plain)-1] != 2 {
		return nil, errors.New("the last record has no delimiter 2")
	}
	return plain[:len(plain)-1], nil
}

// TestBrowserOpensTheExample holds the decryption of these tests to the worked
// example of RFC 8291, section 5.
func TestBrowserOpensTheExample(t *testing.T) {
	decode := func(s string) []byte {
		b, err := b64.DecodeString(s)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	key, err := ecdh.P256().NewPrivateKey(decode("q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"))
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{key: key, auth: decode("BTBZMqHH6r4Tts7J_aSIgg")}
	body := decode("DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN")
	got, err := b.open(body)
	if want := "When I grow up, I want to be a watermelon"; err != nil || string(got) != want {
		t.Errorf("%q, %v; want %q", got, err, want)
	}
}

// pushService is a fake push service that lets one browser after another be
// away or gone.
type pushService struct {
	*httptest.Server
	mu     sync.Mutex // guards what follows
	status map[string]int
	got    map[string][]*http.Request
	bodies map[string][][]byte
}

func newPushService(t *testing.T) *pushService {
	s := &pushService{status: map[string]int{}, got: map[string][]*http.Request{}, bodies: map[string][][]byte{}}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		defer s.mu.Unlock()
		body, _ := io.ReadAll(r.Body)
		if code := s.status[r.URL.Path]; code != 0 {
			w.WriteHeader(code)
			return
		}
		s.got[r.URL.Path] = append(s.got[r.URL.Path], r)
		s.bodies[r.URL.Path] = append(s.bodies[r.URL.Path], body)
		w.WriteHeader(http.StatusCreated)
	}))
	t.Cleanup(s.Close)
	return s
}

// drawer is a Memory of its own.
type drawer struct{ kept map[string][]byte }

func (d *drawer) State(_ context.Context, name string, into any) (bool, error) {
	b, ok := d.kept[name]
	if !ok {
		return false, nil
	}
	return true, json.Unmarshal(b, into)
}

func (d *drawer) SetState(_ context.Context, name string, v any) error {
	b, err := json.Marshal(v)
	d.kept[name] = b
	return err
}

func testDevices(t *testing.T, memory StateStore, file string) *Devices {
	t.Helper()
	d, err := OpenDevices(t.Context(), memory, file, "https://board.example:8420")
	if err != nil {
		t.Fatal(err)
	}
	d.localPush = true
	return d
}

func TestPush(t *testing.T) {
	service, memory := newPushService(t), &drawer{map[string][]byte{}}
	file := filepath.Join(t.TempDir(), "push-key.json")
	d := testDevices(t, memory, file)
	phone, tablet := newBrowser(t), newBrowser(t)
	for path, b := range map[string]*browser{"/phone": phone, "/tablet": tablet} {
		if err := d.Add(t.Context(), b.device(service.URL+path)); err != nil {
			t.Fatal(err)
		}
	}
	message := Message{ID: "leavend-top-1", Kind: OnTop, Vessel: "bramble", Title: "Bramble is ready", Text: "Bramble has stood at its top since 18:40. Use it within the hour, or feed it.", Link: "https://board.example/ack/x.y"}
	service.status["/tablet"] = 503
	var f *Failure
	if err := d.Send(t.Context(), message); !errors.As(err, &f) || f.Fate != Passing || strings.Contains(f.Why, service.URL) {
		t.Fatalf("with a service that is busy: %v", err)
	}
	service.status["/tablet"] = 0
	if err := d.Send(t.Context(), message); err != nil {
		t.Fatal(err)
	}
	for path, b := range map[string]*browser{"/phone": phone, "/tablet": tablet} {
		if n := len(service.bodies[path]); n != 1 {
			t.Fatalf("%s got %d messages, want 1: what arrived is not sent again", path, n)
		}
		plain, err := b.open(service.bodies[path][0])
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		var got pushed
		if err := json.Unmarshal(plain, &got); err != nil || got.Title != message.Title || got.Text != message.Text || got.Link != message.Link || got.Tag != "bramble/top" {
			t.Errorf("%s reads %+v, %v", path, got, err)
		}
		r := service.got[path][0]
		if r.Header.Get("TTL") != "86400" || r.Header.Get("Urgency") != "high" || r.Header.Get("Content-Encoding") != "aes128gcm" {
			t.Errorf("%s: headers %v", path, r.Header)
		}
		checkVAPID(t, r.Header.Get("Authorization"), d.Key(), service.URL)
	}
	// After a restart key and devices are the same, and one that is gone is
	// forgotten.
	again := testDevices(t, memory, file)
	if again.Key() != d.Key() {
		t.Error("the key changed over a restart: every browser would have to be set up again")
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key file: %v, %v", info.Mode(), err)
	}
	service.status["/phone"] = 410
	message.ID = "leavend-top-2"
	if err := again.Send(t.Context(), message); err != nil {
		t.Errorf("with a browser that is gone: %v", err)
	}
	if third := testDevices(t, memory, file); len(third.list) != 1 || third.list[0].Endpoint != service.URL+"/tablet" {
		t.Errorf("left are %v, want the tablet", third.list)
	}
}

// checkVAPID holds the signature to RFC 8292: a JSON web token, ES256, for the
// push service's origin, at most a day long, by the key that stands beside it.
func checkVAPID(t *testing.T, header, key, origin string) {
	t.Helper()
	var token, k string
	for part := range strings.SplitSeq(strings.TrimPrefix(header, "vapid "), ",") {
		name, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		switch name {
		case "t":
			token = value
		case "k":
			k = value
		}
	}
	parts := strings.Split(token, ".")
	if len(parts) != 3 || k != key {
		t.Fatalf("authorization %q", header)
	}
	public, err := b64.DecodeString(k)
	if err != nil {
		t.Fatal(err)
	}
	signer, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), public)
	if err != nil {
		t.Fatal(err)
	}
	seal, err := b64.DecodeString(parts[2])
	if err != nil || len(seal) != 64 {
		t.Fatalf("signature %q, %v", parts[2], err)
	}
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	if !ecdsa.Verify(signer, sum[:], new(big.Int).SetBytes(seal[:32]), new(big.Int).SetBytes(seal[32:])) {
		t.Error("the token is not signed by the key")
	}
	var claims struct {
		Aud, Sub string
		Exp      int64
	}
	text, _ := b64.DecodeString(parts[1])
	if err := json.Unmarshal(text, &claims); err != nil {
		t.Fatal(err)
	}
	if left := time.Until(time.Unix(claims.Exp, 0)); claims.Aud != origin || claims.Sub != "https://board.example:8420" || left <= 0 || left > 24*time.Hour {
		t.Errorf("claims %+v, %v left", claims, left)
	}
}

func TestPushRefuses(t *testing.T) {
	d := testDevices(t, &drawer{map[string][]byte{}}, filepath.Join(t.TempDir(), "k"))
	d.localPush = false
	b := newBrowser(t)
	for _, endpoint := range []string{"", "http://push.example/x", "https://127.0.0.1/x", "https://[::1]/x", "https://router/x", "https://board.local/x", "https://u:p@push.example/x", "ftp://push.example/x", "https://push.example/" + strings.Repeat("x", 2050)} {
		if err := d.Add(t.Context(), b.device(endpoint)); err == nil {
			t.Errorf("%.60q was taken", endpoint)
		}
	}
	bad := b.device("https://push.example/x")
	bad.P256dh = "AAAA"
	if err := d.Add(t.Context(), bad); err == nil {
		t.Error("a key of three bytes was taken")
	}
	if err := d.Add(t.Context(), b.device("https://push.example/x")); err != nil {
		t.Error(err)
	}
	if err := os.WriteFile(filepath.Join(t.TempDir(), "bad"), []byte("{}"), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestPushLongMessage keeps a message of twenty gathered messages within what a
// push service takes.
func TestPushLongMessage(t *testing.T) {
	service := newPushService(t)
	d := testDevices(t, &drawer{map[string][]byte{}}, filepath.Join(t.TempDir(), "k"))
	b := newBrowser(t)
	if err := d.Add(t.Context(), b.device(service.URL+"/phone")); err != nil {
		t.Fatal(err)
	}
	if err := d.Send(t.Context(), Message{ID: "x", Kind: Normal, Title: "21 messages", Text: strings.Repeat("- Brämble « is » well.\n", 400)}); err != nil {
		t.Fatal(err)
	}
	if plain, err := b.open(service.bodies["/phone"][0]); err != nil || !json.Valid(plain) {
		t.Errorf("%.80q, %v", plain, err)
	}
}
