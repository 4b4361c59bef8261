package web

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/web/access"
)

// openable is a board whose page can be opened to the home network: it stops
// serving and starts again, as the daemon does.
type openable struct {
	t    *testing.T
	port string
	opts Opts

	mu     sync.Mutex // guards what follows
	server *Server
	stop   func() // waits for the end
}

func newOpenable(t *testing.T) *openable {
	t.Helper()
	_, port, _ := net.SplitHostPort(freeport.Address(t))
	b := &openable{t: t, port: port}
	b.opts = Opts{Listen: "127.0.0.1:" + port, DataDir: t.TempDir(), Reach: b, Log: slog.New(slog.DiscardHandler)}
	b.start()
	t.Cleanup(func() { b.mu.Lock(); defer b.mu.Unlock(); b.stop() })
	return b
}

// start serves as opts say.
func (b *openable) start() {
	server, err := New(newFakeHouse(fakeClock()).backend(), b.opts)
	if err != nil {
		b.t.Error(err)
		return
	}
	l, err := net.Listen("tcp", b.opts.Listen)
	if err != nil {
		b.t.Error(err)
		return
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ctx, l) }()
	b.server, b.stop = server, func() { cancel(); <-ended }
}

func (b *openable) Blocked() string { return "" }

func (b *openable) SetReach(_ context.Context, ask ReachAsk) (func(), error) {
	return func() {
		go func() {
			b.mu.Lock()
			defer b.mu.Unlock()
			b.stop()
			b.opts.Listen = "127.0.0.1:" + b.port
			if ask.Open {
				b.opts.Listen = ":" + b.port
			}
			if ask.TLS != "" {
				b.opts.SelfSigned = ask.TLS == "self-made"
			}
			b.start()
		}()
	}, nil
}

// TestReach opens the page to the home network and closes it again, and checks
// each answer against openapi.json.
func TestReach(t *testing.T) {
	b := &heldReach{}
	_, s, v := newKitchen(t, Opts{Listen: "127.0.0.1:8420", Reach: b})
	if code, got := v.do("GET", "/api/reach", ""); code != 200 || got["open"] != false || got["code"] != s.SetupCode() {
		t.Errorf("at first: %d %v", code, got)
	}
	for _, c := range []struct {
		body string
		want int
	}{
		{`{"open":true,"tls":"rot13","password":"flour and water"}`, 422},
		{`{"open":true,"tls":"self-made"}`, 422},
		{`{"open":true,"tls":"self-made","password":"short"}`, 422},
		{`{"open":true,"tls":"self-made","password":"flour and water"}`, 200},
	} {
		code, got := v.do("PUT", "/api/reach", c.body)
		if code != c.want {
			t.Errorf("%s: %d, want %d: %v", c.body, code, c.want, got)
		}
		if code != 200 {
			continue
		}
		address, _ := got["addresses"].([]any)[0].(string)
		if !strings.HasPrefix(address, "https://") || !strings.HasSuffix(address, ":8420") || got["open"] != true || got["password_set"] != true || got["code"] != nil {
			t.Errorf("once open: %v", got)
		}
	}
	if len(b.asked) != 1 || b.began != 1 {
		t.Errorf("asked %v, began %d times", b.asked, b.began)
	}
	// Now there is a password, and it is needed.
	if code, _ := v.do("PUT", "/api/reach", `{"open":false}`); code != 401 {
		t.Errorf("closing without signing in: %d", code)
	}
	v.do("POST", "/api/session", `{"password":"flour and water"}`)
	if code, got := v.do("PUT", "/api/reach", `{"open":false}`); code != 200 || got["open"] != false {
		t.Errorf("closing: %d %v", code, got)
	}
	_, _, bare := newKitchen(t, Opts{})
	if code, got := bare.do("PUT", "/api/reach", `{"open":true,"password":"flour and water"}`); code != 409 {
		t.Errorf("in the demo: %d %v", code, got)
	}
}

// heldReach notes what it is asked.
type heldReach struct {
	asked []ReachAsk
	began int
}

func (h *heldReach) Blocked() string { return "" }
func (h *heldReach) SetReach(_ context.Context, ask ReachAsk) (func(), error) {
	h.asked = append(h.asked, ask)
	return func() { h.began++ }, nil
}

// TestCodeIsForTheBoardAlone keeps the set-up code from the network.
func TestCodeIsForTheBoardAlone(t *testing.T) {
	_, s, v := newKitchen(t, Opts{Listen: "0.0.0.0:8420", OpenReading: true})
	if code, got := v.do("GET", "/api/reach", ""); code != 200 || got["code"] != s.SetupCode() || got["open"] != true {
		t.Errorf("at the board: %d %v", code, got)
	}
	v.from, v.host = lan, "192.0.2.1:8420"
	if code, got := v.do("GET", "/api/reach", ""); code != 200 || got["code"] != nil {
		t.Errorf("from the network: %d, code %v", code, got["code"])
	}
}

// TestPlainHTTPIsSentToTLS: an address that is typed without a scheme reaches
// the page.
func TestPlainHTTPIsSentToTLS(t *testing.T) {
	st := raise(t, "", Opts{SelfSigned: true, DataDir: t.TempDir()})
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	defer client.CloseIdleConnections()
	answer, err := client.Get("http" + strings.TrimPrefix(st.url, "https") + "/api/session?x=1")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != 200 || answer.Request.URL.String() != st.url+"/api/session?x=1" {
		t.Errorf("%d at %s", answer.StatusCode, answer.Request.URL)
	}
	// One that says nothing, or no HTTP, delays no one.
	for _, said := range []string{"", "\x00\x01", "GET\r\n\r\n"} {
		c, err := net.Dial("tcp", strings.TrimPrefix(st.url, "https://"))
		if err != nil {
			t.Fatal(err)
		}
		_, _ = io.WriteString(c, said)
		defer c.Close()
	}
	if answer, err := client.Get(st.url + "/api/session"); err != nil || answer.StatusCode != 200 {
		t.Errorf("beside them: %v", err)
	} else {
		_ = answer.Body.Close()
	}
}

// TestQRIsRead has a reader that is not ours read the code: ZBar, which
// Debian's zbar-tools hold.
func TestQRIsRead(t *testing.T) {
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal("zbarimg is missing: install Debian's zbar-tools")
		}
		t.Skip("no zbarimg")
	}
	for _, address := range []string{"http://192.0.2.7:8420", "https://[2001:db8::42:8329]:8420", "https://a-rather-long-board-name-in-the-kitchen.local:18420"} {
		rows := qrRows(address)
		const module, edge = 4, 4
		size := (len(rows) + 2*edge) * module
		img := image.NewGray(image.Rect(0, 0, size, size))
		for y := range size {
			for x := range size {
				r, c := y/module-edge, x/module-edge
				dark := r >= 0 && c >= 0 && r < len(rows) && c < len(rows) && rows[r][c] == '1'
				img.SetGray(x, y, color.Gray{Y: map[bool]uint8{true: 0, false: 255}[dark]})
			}
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "qr.png")
		if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(zbar, "-q", "--raw", file).Output()
		if got := strings.TrimSpace(string(out)); err != nil || got != address {
			t.Errorf("read %q (%v), want %q", got, err, address)
		}
	}
}

// TestReachableHosts holds what a phone is told to where the page listens.
func TestReachableHosts(t *testing.T) {
	was := avahiSocket
	defer func() { avahiSocket = was }()
	avahiSocket = filepath.Join(t.TempDir(), "socket")
	if err := os.WriteFile(avahiSocket, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	all := reachableHosts("", []string{"bread.example."})
	if len(all) < 3 || !strings.HasSuffix(all[len(all)-2], ".local") || all[len(all)-1] != "bread.example" {
		t.Errorf("on every address: %q", all)
	}
	if one := reachableHosts("192.0.2.7", nil); len(one) != 1 || one[0] != "192.0.2.7" {
		t.Errorf("on one address: %q", one)
	}
	b, err := json.Marshal((&Server{opts: Opts{}, sessions: &sessions{local: true, keys: &access.Keyring{}}}).Reached())
	if err != nil || !bytes.Contains(b, []byte(`"addresses":[]`)) {
		t.Errorf("%s, %v", b, err)
	}
}
