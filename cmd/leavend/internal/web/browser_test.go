package web

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"
)

// TestBrowser drives the page in a real Chromium. It takes a minute or two,
// so it runs only where real peers are demanded; then a missing browser is a
// failure and no skip. What it needs: Debian's chromium and Node.js, and once
// npm ci in the folder browser.
func TestBrowser(t *testing.T) {
	if os.Getenv("LEAVEND_REAL_PEERS") == "" {
		t.Skip("set LEAVEND_REAL_PEERS=1 to drive the page in a real browser")
	}
	for _, need := range []string{"/usr/bin/chromium", "browser/node_modules/playwright-core/package.json"} {
		if _, err := os.Stat(need); err != nil {
			t.Fatalf("%v: install Debian's chromium, and run npm ci in cmd/leavend/internal/web/browser", err)
		}
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Fatal(err)
	}
	root, err := filepath.Abs("../../../..")
	if err != nil {
		t.Fatal(err)
	}
	artefacts := filepath.Join(root, "artefacts", "page")
	if err := os.MkdirAll(artefacts, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(artefacts, "measured.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	// As many kitchens as tests may go on at once: a browser waits as much as
	// it works, so there may be one more than there are processors.
	var kitchens []map[string]string
	for range runtime.NumCPU() + 1 {
		k := raise(t, "", Opts{Walk: &madeUpWalk{}, Messages: &heldMessages{}, Reach: &heldReach{}})
		kitchens = append(kitchens, map[string]string{"page": k.url, "strings": k.strings})
	}
	served, err := json.Marshal(kitchens)
	if err != nil {
		t.Fatal(err)
	}
	lan := raise(t, "", Opts{Listen: "0.0.0.0:0"}) // what it does beyond this machine, seen from this machine
	secure := raise(t, "", Opts{SelfSigned: true, DataDir: t.TempDir()})
	plain := raise(t, "", Opts{DataDir: t.TempDir(), Walk: &madeUpWalk{}, Messages: &heldMessages{}}) // by an address that a browser holds to be no secure context
	openable := newOpenable(t)
	ctx, stop := context.WithTimeout(t.Context(), 15*time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, node, "--test", "--test-reporter=spec", "browser/")
	if one := os.Getenv("LEAVEND_BROWSER_ONLY"); one != "" {
		cmd.Args = []string{node, "--test", "--test-reporter=spec", "--test-name-pattern=" + one, "browser/"}
	}
	cmd.Env = append(os.Environ(), "KITCHENS="+string(served), "LAN="+lan.url, "LAN_STRINGS="+lan.strings,
		"SECURE="+secure.url, "PLAIN="+plain.url, "OPENABLE=http://127.0.0.1:"+openable.port, "ARTEFACTS="+artefacts)
	cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr // as it goes: it takes minutes
	if err := cmd.Run(); err != nil {
		t.Fatalf("browser tests: %v", err)
	}
}
