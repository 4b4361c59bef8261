package web

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/web/access"
)

// TestForgetWhileServing forgets the password under a server that runs: neither
// an old session nor a sign-in with the old password brings it back.
func TestForgetWhileServing(t *testing.T) {
	dir := t.TempDir()
	_, s, v := newKitchen(t, Opts{DataDir: dir, Listen: ":8420"})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	if _, err := access.Forget(dir, time.Now()); err != nil {
		t.Fatal(err)
	}
	if code, body := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
		t.Errorf("a session from before = %d %s, want 401", code, body)
	}
	if code, _ := v.do("POST", "/api/session", `{"password":"flour and water"}`); code != 401 {
		t.Errorf("the forgotten password = %d, want 401", code)
	}
	if _, err := os.Stat(filepath.Join(dir, access.File)); err == nil {
		t.Error("the file with the forgotten password is there again")
	}
	if s.SetupCode() == "" {
		t.Error("no set-up code")
	}
	v.cookie = nil
	if code, body := v.do("PUT", "/api/password", `{"new":"rye and salt","code":"`+s.SetupCode()+`"}`); code != 200 {
		t.Errorf("a new password = %d %s", code, body)
	}
}

// TestDamagedWhileServing damages the file under a server that runs, and puts it
// back: meanwhile no sign-in counts, and no password can be chosen.
func TestDamagedWhileServing(t *testing.T) {
	dir := t.TempDir()
	_, s, v := newKitchen(t, Opts{DataDir: dir})
	v.do("PUT", "/api/password", `{"new":"flour and water"}`)
	file := filepath.Join(dir, access.File)
	sound, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for name, damage := range map[string]func() error{
		"no JSON":             func() error { return os.WriteFile(file, []byte("{"), 0o600) },
		"a folder":            func() error { return os.Mkdir(file, 0o700) },
		"no data folder left": func() error { return os.Rename(dir, dir+".away") },
	} {
		os.RemoveAll(file)
		if err := damage(); err != nil {
			t.Fatal(err)
		}
		if s.AccessTrouble() == nil || s.SetupCode() != "" {
			t.Errorf("%s: trouble %v, set-up code %q", name, s.AccessTrouble(), s.SetupCode())
		}
		for _, ask := range [][3]string{{"POST", "/api/session", `{"password":"flour and water"}`}, {"PUT", "/api/password", `{"new":"rye and salt"}`}} {
			if code, body := v.do(ask[0], ask[1], ask[2]); code != 503 {
				t.Errorf("%s: %s %s = %d %s, want 503", name, ask[0], ask[1], code, body)
			}
		}
		if code, _ := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 401 {
			t.Errorf("%s: a change = %d, want 401", name, code)
		}
		_ = os.Rename(dir+".away", dir)
		os.RemoveAll(file)
		if err := os.WriteFile(file, sound, 0o600); err != nil {
			t.Fatal(err)
		}
		if code, body := v.do("POST", "/api/vessels/bramble/feeds", `{}`); code != 201 {
			t.Errorf("put back after %s: %d %s", name, code, body)
		}
	}
}
