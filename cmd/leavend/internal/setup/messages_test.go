package setup

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/web"
)

// newSetup is the set-up of a daemon with the shipped configuration; began counts
// how often it is started again.
func newSetup(t *testing.T) (s *Setup, file string, began *int) {
	t.Helper()
	file, began = filepath.Join(t.TempDir(), "leavend.toml"), new(int)
	if err := os.WriteFile(file, []byte(config.Reference()), 0o640); err != nil {
		t.Fatal(err)
	}
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	m := monitor.NewMonitor(conf, event.NewClock(time.Now(), 1), slog.New(slog.DiscardHandler))
	return New(m, func(context.Context) error { return nil }, func([]byte) { *began++ }), file, began
}

// TestRecipients adds somebody, changes what they are told, and takes them out:
// the configuration is then as it was shipped, and no address is left.
func TestRecipients(t *testing.T) {
	s, file, began := newSetup(t)
	set := func(r web.Recipient, address string) {
		t.Helper()
		begin, err := s.SetRecipient(t.Context(), r, address)
		if err != nil {
			t.Fatal(err)
		}
		begin()
	}
	phone := web.Recipient{Name: "phone", About: []string{"peak", "faults"}, QuietFrom: "22:30", QuietTo: "06:30"}
	if _, err := s.SetRecipient(t.Context(), phone, ""); err == nil {
		t.Error("somebody new without an address")
	}
	if _, err := s.SetRecipient(t.Context(), phone, "carrier-pigeon://loft"); err == nil {
		t.Error("an address that reaches no recipient")
	}
	set(phone, "ntfy://ntfy.example/my-kitchen")
	secret := filepath.Join(filepath.Dir(file), "phone-url")
	if info, err := os.Stat(secret); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("the address's file: %v, %v", info, err)
	}
	conf, err := config.Load(file)
	if err != nil || len(conf.Notify) != 1 {
		t.Fatal(err)
	}
	got := conf.Notify[0]
	if address, err := got.URL.Reveal(); err != nil || address != "ntfy://ntfy.example/my-kitchen" || got.QuietFrom.String() != "22:30" || slices.Contains(got.Kinds, config.Target) || !slices.Contains(got.Kinds, config.MatFault) {
		t.Errorf("%+v, %q, %v", got, address, err)
	}
	phone.About, phone.QuietFrom, phone.QuietTo = []string{"dough"}, "", ""
	set(phone, "")
	all, err := s.Recipients(t.Context())
	if err != nil || len(all.All) != 1 || all.All[0].Kind != "ntfy" || !slices.Equal(all.All[0].About, []string{"dough"}) || all.All[0].QuietFrom != "" || all.SleepFrom != "22:30" {
		t.Errorf("%+v, %v", all, err)
	}
	begin, err := s.RemoveRecipient(t.Context(), "phone")
	if err != nil {
		t.Fatal(err)
	}
	begin()
	if text, err := os.ReadFile(file); err != nil || string(text) != config.Reference() {
		t.Errorf("%v, left behind: %s", err, config.Difference([]byte(config.Reference()), text))
	}
	if _, err := os.Stat(secret); err == nil {
		t.Error("the address is still there")
	}
	if *began != 3 {
		t.Errorf("started again %d times, want 3", *began)
	}
}

// TestTryAddress sends a test to a program that takes it, and to one that refuses.
func TestTryAddress(t *testing.T) {
	s, _, _ := newSetup(t)
	var said string
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		if said = string(b); r.URL.Path == "/refuses" {
			w.WriteHeader(http.StatusForbidden)
		}
	}))
	defer hook.Close()
	if err := s.TryAddress(t.Context(), hook.URL+"/takes"); err != nil || !strings.Contains(said, "test") {
		t.Errorf("%v, said %q", err, said)
	}
	if err := s.TryAddress(t.Context(), hook.URL+"/refuses"); err == nil || strings.Contains(err.Error(), "127.0.0.1") {
		t.Errorf("refused: %v", err)
	}
}

// TestSetReach changes the two keys and puts them back.
func TestSetReach(t *testing.T) {
	s, file, began := newSetup(t)
	for _, ask := range []web.ReachAsk{{Open: true, TLS: "self-made"}, {Open: true}, {Open: false, TLS: "off"}} {
		begin, err := s.SetReach(t.Context(), ask)
		if err != nil {
			t.Fatal(err)
		}
		if begin != nil {
			begin()
		}
		conf, err := config.Load(file)
		if err != nil || config.Loopback(conf.Web.Listen) == ask.Open || ask.TLS != "" && string(conf.Web.TLS) != ask.TLS {
			t.Errorf("%+v: %+v, %v", ask, conf.Web, err)
		}
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != config.Reference() || *began != 2 {
		t.Errorf("%v, started again %d times, left behind: %s", err, *began, config.Difference([]byte(config.Reference()), text))
	}
}
