package web

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// TestOnlyAChangeIsLogged asks every GET that there is, none of which may be logged as
// a change, and then changes something.
func TestOnlyAChangeIsLogged(t *testing.T) {
	var log bytes.Buffer
	house := newFakeHouse(fakeClock())
	opts := Opts{Log: slog.New(slog.NewTextHandler(&log, nil)), Now: house.now, Household: house, Walk: &madeUpWalk{}, Messages: &heldMessages{}}
	server, err := New(house.backend(), opts)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(method, path, body string) int {
		r := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
		r.RemoteAddr = "127.0.0.1:40000"
		r.Header.Set("Content-Type", "application/json")
		if strings.HasSuffix(path, "/events") { // it ends when its visitor goes
			ctx, leave := context.WithCancel(r.Context())
			leave()
			r = r.WithContext(ctx)
		}
		w := httptest.NewRecorder()
		server.Handler().ServeHTTP(w, r)
		return w.Code
	}
	named := strings.NewReplacer("{vessel}", "bramble", "{feed}", house.feeds["bramble"][0].ID, "{bake}", "b1")
	answered := 0
	for _, rt := range server.apiRoutes(house.backend()) {
		if rt.method != http.MethodGet {
			continue
		}
		for _, path := range []string{rt.path, promised(rt.path)} {
			if ask(rt.method, named.Replace(path), "") == http.StatusOK {
				answered++
			}
			if strings.Contains(log.String(), "web: changed") {
				t.Fatalf("GET %s is logged as a change: %s", path, &log)
			}
		}
	}
	if answered < 40 {
		t.Errorf("only %d addresses answered", answered)
	}
	if code := ask("PUT", "/api/vessels/bramble/fridge", `{"in":true}`); code >= 300 || !strings.Contains(log.String(), `what="PUT /api/vessels/bramble/fridge"`) {
		t.Errorf("a change was answered with %d and logged as %q", code, &log)
	}
}
