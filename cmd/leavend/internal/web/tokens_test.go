package web

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/web/access"
)

// TestTokens makes a token of each right, and tries from the network what each
// lets a program do.
func TestTokens(t *testing.T) {
	dir := t.TempDir()
	_, s, v := newKitchen(t, Opts{Listen: "0.0.0.0:8420", DataDir: dir})
	v.do("PUT", "/api/password", `{"new":"flour and water","code":"`+s.SetupCode()+`"}`)
	given := map[string]string{"none": "", "wrong": access.TokenPrefix + strings.Repeat("0", 64)}
	for _, right := range []string{"read", "feed", "change"} {
		code, got := v.do("POST", "/api/tokens", `{"name":"a-`+right+`","right":"`+right+`"}`)
		made, _ := got["token"].(string)
		if code != 201 || !strings.HasPrefix(made, access.TokenPrefix) {
			t.Fatalf("a token to %s: %d %v", right, code, got)
		}
		given[right] = made
	}
	for body, want := range map[string]int{
		`{"name":"a-read","right":"read"}`: 409, `{"name":"A","right":"read"}`: 422, `{"name":"b","right":"all"}`: 422, `{"name":"../x","right":"read"}`: 422,
	} {
		if code, _ := v.do("POST", "/api/tokens", body); code != want {
			t.Errorf("%s: %d, want %d", body, code, want)
		}
	}
	kept, err := os.ReadFile(filepath.Join(dir, access.File))
	if err != nil || strings.Contains(string(kept), given["read"]) || !strings.Contains(string(kept), hashOf(given["read"])) {
		t.Errorf("the file holds no hash, or the token itself: %v", err)
	}
	owner := *v
	tried := []struct{ method, path, body, least string }{
		{"GET", "/api/now", "", "read"},
		{"GET", "/api/journal", "", "read"},
		{"POST", "/api/vessels/bramble/feeds", `{}`, "feed"},
		{"PUT", "/api/vessels/bramble/fridge", `{"in":true}`, "feed"},
		{"PUT", "/api/mats/shelf/setpoint", `{"celsius":25}`, "change"},
		{"GET", "/api/tokens", "", "owner"},
		{"POST", "/api/tokens", `{"name":"c","right":"change"}`, "owner"},
		{"PUT", "/api/reach", `{"open":false}`, "owner"},
		{"GET", "/api/walk", "", "owner"},
	}
	order := []string{"none", "wrong", "read", "feed", "change", "owner"}
	at := func(word string) int {
		for i, w := range order {
			if w == word {
				return i
			}
		}
		return -1
	}
	program := func(auth string) *visitor {
		p := *v
		p.from, p.host, p.cookie, p.header = lan, "192.0.2.1:8420", nil, http.Header{}
		if auth != "" {
			p.header.Set("Authorization", auth)
		}
		return &p
	}
	for name, shown := range given {
		for _, auth := range []string{"Bearer " + shown, "bearer " + shown, "Basic " + base64.StdEncoding.EncodeToString([]byte("scraper:"+shown))} {
			if shown == "" {
				auth = ""
			}
			for _, try := range tried {
				code, _ := program(auth).do(try.method, try.path, try.body)
				if may := code != 401; may != (at(name) >= at(try.least)) {
					t.Errorf("%s with a token to %s (%.6s): %d", try.method+" "+try.path, name, auth, code)
				}
			}
		}
	}
	// A new password leaves them; a restart too; revoking ends one.
	owner.do("PUT", "/api/password", `{"old":"flour and water","new":"rye and water"}`)
	_, _, again := newKitchen(t, Opts{Listen: "0.0.0.0:8420", DataDir: dir})
	again.do("POST", "/api/session", `{"password":"rye and water"}`)
	if code, got := again.do("GET", "/api/tokens", ""); code != 200 || len(got["tokens"].([]any)) != 3 {
		t.Fatalf("after a restart: %d %v", code, got)
	}
	for want := 204; want <= 404; want += 200 {
		if code, _ := again.do("DELETE", "/api/tokens/a-read", ""); code != want {
			t.Errorf("revoked: %d, want %d", code, want)
		}
	}
	again.from, again.cookie = lan, nil
	again.header.Set("Authorization", "Bearer "+given["read"])
	if code, _ := again.do("GET", "/api/now", ""); code != 401 {
		t.Errorf("a revoked token: %d", code)
	}
}

// hashOf is how the file keeps a token.
func hashOf(token string) string { return fmt.Sprintf("%x", sha256.Sum256([]byte(token))) }
