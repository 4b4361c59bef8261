package web

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/web/access"
)

const lan = "192.0.2.7:51000" // a documentation address, RFC 5737

func TestLoopbackAloneNeedsNoPassword(t *testing.T) {
	_, _, v := newKitchen(t, Opts{Listen: "127.0.0.1:0"})
	if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 201 {
		t.Errorf("a feed at the machine itself = %d, want 201", code)
	}
	v.header.Set("X-Forwarded-For", "198.51.100.3")
	if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
		t.Errorf("a feed through a proxy on the machine = %d, want 401", code)
	}
	if code, _ := v.do("GET", "/api/now", ""); code != 401 {
		t.Errorf("reading through a proxy = %d, want 401", code)
	}
}

func TestOnTheLAN(t *testing.T) {
	for _, open := range []bool{false, true} {
		t.Run(fmt.Sprintf("open reading %v", open), func(t *testing.T) {
			_, s, v := newKitchen(t, Opts{Listen: "0.0.0.0:8420", OpenReading: open})
			local := v.from
			v.from, v.host = lan, "192.0.2.1:8420"
			want := 401
			if open {
				want = 200
			}
			for _, path := range []string{"/api/now", "/api/vessels/bramble/window", "/api/setup"} {
				if code, _ := v.do("GET", path, ""); code != want {
					t.Errorf("GET %s = %d, want %d", path, code, want)
				}
			}
			if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
				t.Errorf("a change without a password = %d, want 401", code)
			}
			v.from = local
			if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
				t.Errorf("a change at the machine while the page is on the LAN = %d, want 401", code)
			}
			v.from = lan
			if code, _ := v.do("PUT", "/api/password", `{"new":"flour and water","code":"00000000"}`); code != 401 {
				t.Errorf("a first password with a guessed code = %d, want 401", code)
			}
			body := fmt.Sprintf(`{"new":"flour and water","code":%q}`, s.SetupCode())
			if code, got := v.do("PUT", "/api/password", body); code != 200 || got["may_change"] != true {
				t.Fatalf("the first password = %d %v", code, got)
			}
			c := v.cookie
			if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" {
				t.Errorf("cookie %v lacks HttpOnly, SameSite=Strict or its path", c)
			}
			if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 201 {
				t.Errorf("a change when signed in = %d, want 201", code)
			}
			v.cookie = nil
			if code, _ := v.do("PUT", "/api/password", body); code != 401 {
				t.Errorf("the set-up code used twice = %d, want 401", code)
			}
			if s.SetupCode() != "" {
				t.Error("the set-up code outlived the first password")
			}
			if code, _ := v.do("POST", "/api/session", `{"password":"flour and Water"}`); code != 401 {
				t.Errorf("a wrong password = %d, want 401", code)
			}
			if code, _ := v.do("POST", "/api/session", `{"password":"flour and water"}`); code != 200 {
				t.Errorf("the password = %d, want 200", code)
			}
			old := *v.cookie
			if code, _ := v.do("PUT", "/api/password", `{"old":"flour and water","new":"rye and water"}`); code != 200 {
				t.Errorf("a new password = %d, want 200", code)
			}
			v.cookie = &old
			if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
				t.Errorf("a session from before the new password = %d, want 401", code)
			}
		})
	}
}

func TestSigningOut(t *testing.T) {
	_, _, v := newKitchen(t, Opts{})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	was := *v.cookie
	if code, _ := v.do("DELETE", "/api/session", ""); code != 204 || v.cookie.MaxAge >= 0 {
		t.Errorf("signing out = %d, cookie %v", code, v.cookie)
	}
	v.cookie = &was
	if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
		t.Errorf("the old cookie = %d, want 401", code)
	}
}

func TestSessionsAndPasswordOutliveARestart(t *testing.T) {
	dir := t.TempDir()
	_, _, v := newKitchen(t, Opts{DataDir: dir})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	b, err := os.ReadFile(filepath.Join(dir, "page-access.json"))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(b), v.cookie.Value) || strings.Contains(string(b), "flour and water") {
		t.Error("the file holds the password or a token in the clear")
	}
	if info, _ := os.Stat(filepath.Join(dir, "page-access.json")); info.Mode().Perm() != 0o600 {
		t.Errorf("the file is %v, want 0600", info.Mode().Perm())
	}
	_, s2, v2 := newKitchen(t, Opts{DataDir: dir})
	v2.cookie = v.cookie
	if code, _ := v2.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 201 || s2.SetupCode() != "" {
		t.Errorf("after a restart: %d, set-up code %q", code, s2.SetupCode())
	}
	late := Opts{DataDir: dir, Now: func() time.Time { return fakeStart.Add(61 * 24 * time.Hour) }}
	_, _, v3 := newKitchen(t, late)
	v3.cookie = v.cookie
	if code, _ := v3.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
		t.Errorf("after two months: %d, want 401", code)
	}
	if err := os.WriteFile(filepath.Join(dir, "page-access.json"), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, s4, v4 := newKitchen(t, Opts{DataDir: dir})
	if err := s4.AccessTrouble(); err == nil || !strings.Contains(err.Error(), "damaged") || s4.SetupCode() != "" {
		t.Errorf("a damaged file: %v, set-up code %q", err, s4.SetupCode())
	}
	if code, _ := v4.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
		t.Errorf("a change with a damaged file = %d; the door must not open", code)
	}
}

func TestGuessingOverHTTP(t *testing.T) {
	_, _, v := newKitchen(t, Opts{})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	v.cookie = nil
	for range access.FreeTries {
		v.do("POST", "/api/session", `{"password":"a guess too many"}`)
	}
	if code, got := v.do("POST", "/api/session", `{"password":"flour and water"}`); code != 429 || got["code"] != "wait" {
		t.Errorf("the right password after too many wrong ones = %d %v, want 429", code, got)
	}
}

func TestOtherSitesAreRefused(t *testing.T) {
	house, _, v := newKitchen(t, Opts{Hosts: []string{"bread.example."}})
	feeds := "/api/vessels/bramble/feeds"
	before := len(house.feeds["bramble"])
	tests := []struct {
		name, host string
		header     map[string]string
		want       int
	}{
		{"a name pointed at us", "evil.example:8420", nil, 421},
		{"a name that begins like ours", "localhost.evil.example", nil, 421},
		{"no name", "", nil, 421},
		{"another site's form", "localhost:8420", map[string]string{"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}, 403},
		{"another port of this machine", "localhost:8420", map[string]string{"Origin": "http://localhost:3000"}, 403},
		{"a sandboxed frame", "localhost:8420", map[string]string{"Origin": "null"}, 403},
		{"same site, other origin", "localhost:8420", map[string]string{"Sec-Fetch-Site": "same-site"}, 403},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v.t, v.host, v.header = t, tt.host, http.Header{}
			for k, x := range tt.header {
				v.header.Set(k, x)
			}
			r := httptest.NewRequest("POST", "/", strings.NewReader(`{}`))
			r.Host, r.RemoteAddr, r.URL.Path = tt.host, v.from, feeds
			r.Header = v.header.Clone()
			r.Header.Set("Content-Type", "application/json")
			w := httptest.NewRecorder()
			v.h.ServeHTTP(w, r)
			if w.Code != tt.want {
				t.Errorf("%d, want %d", w.Code, tt.want)
			}
		})
	}
	if len(house.feeds["bramble"]) != before {
		t.Error("another site's request was carried out")
	}
	v.host, v.header = "localhost:8420", http.Header{}
	v.do("PUT", "/api/v1/password", `{"new":"flour and water"}`) // by name, and through proxies, a visitor is not at the machine
	for _, host := range []string{"localhost:8420", "127.0.0.1:8420", "[::1]:8420", "192.0.2.1", "bread.example:8420", "leaven.localhost"} {
		v.host, v.header = host, http.Header{"Origin": {"http://" + host}, "Sec-Fetch-Site": {"same-origin"}}
		if code, _ := v.do("POST", feeds, `{}`); code != 201 {
			t.Errorf("our own page at %s = %d, want 201", host, code)
		}
	}
}

func TestMountsNeedTheRightToRead(t *testing.T) {
	_, _, v := newKitchen(t, Opts{Listen: "0.0.0.0:1", Mounts: map[string]http.Handler{
		"GET /metrics": http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "up 1\n") }),
	}})
	if code, _ := v.do("GET", "/metrics", ""); code != 200 {
		t.Errorf("at the machine: %d", code)
	}
	v.from = lan
	if code, _ := v.do("GET", "/metrics", ""); code != 401 {
		t.Errorf("from the LAN: %d, want 401", code)
	}
}

func TestOpenHandlersNeedNoRight(t *testing.T) {
	_, _, v := newKitchen(t, Opts{Listen: "0.0.0.0:1", Open: map[string]http.Handler{
		"/ack/": http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = io.WriteString(w, r.URL.Path) }),
	}})
	v.from = lan
	for _, method := range []string{"GET", "POST"} {
		if code, _ := v.do(method, "/ack/token", ""); code != 200 {
			t.Errorf("%s from the LAN: %d, want 200", method, code)
		}
	}
}

func TestSelfMadeCertificate(t *testing.T) {
	dir := t.TempDir()
	serve := func() *x509.Certificate {
		t.Helper()
		s, err := New(newFakeHouse(time.Now).backend(), Opts{SelfSigned: true, DataDir: dir, Hosts: []string{"bread.example"}, Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- s.Serve(ctx, l) }()
		pool := x509.NewCertPool()
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
		// The certificate is trusted by hand, as a phone is told to.
		raw, err := tls.Dial("tcp", l.Addr().String(), &tls.Config{InsecureSkipVerify: true})
		if err != nil {
			t.Fatal(err)
		}
		leaf := raw.ConnectionState().PeerCertificates[0]
		_ = raw.Close()
		pool.AddCert(leaf)
		reply, err := client.Get("https://" + l.Addr().String() + "/api/session")
		if err != nil {
			t.Fatalf("once trusted: %v", err)
		}
		_ = reply.Body.Close()
		if reply.StatusCode != 200 {
			t.Errorf("status %d", reply.StatusCode)
		}
		client.CloseIdleConnections()
		stop()
		if err := <-ended; err != nil {
			t.Errorf("Serve: %v", err)
		}
		return leaf
	}
	first := serve()
	for _, name := range []string{"localhost", "bread.example", "127.0.0.1", "::1"} {
		if err := first.VerifyHostname(name); err != nil {
			t.Error(err)
		}
	}
	if second := serve(); !second.Equal(first) {
		t.Error("a restart made another certificate, and every phone asks again")
	}
	if info, err := os.Stat(filepath.Join(dir, "page-tls.pem")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("key file: %v, %v", info, err)
	}
}

func TestSecureCookieOverTLS(t *testing.T) {
	_, _, v := newKitchen(t, Opts{SelfSigned: true})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	if c := v.cookie; !c.Secure || !strings.HasPrefix(c.Name, "__Host-") {
		t.Errorf("cookie %v, want Secure and __Host-", c)
	}
}
