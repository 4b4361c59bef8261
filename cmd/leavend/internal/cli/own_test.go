package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
)

// The variables, their defaults, and that a relative path is ignored, are those of the
// XDG Base Directory Specification, version 0.8.
func TestOwnFolders(t *testing.T) {
	absent, there := filepath.Join(t.TempDir(), "none.toml"), configtest.Write(t, "")
	for _, tt := range []struct {
		name          string
		uid           int
		env           map[string]string
		boards        string
		config, state string
	}{
		{"an ordinary user", 1000, map[string]string{"HOME": "/home/b"}, absent, "/home/b/.config/leavend/leavend.toml", "/home/b/.local/state/leavend"},
		{"folders of his choice", 1000, map[string]string{"HOME": "/home/b", "XDG_CONFIG_HOME": "/c", "XDG_STATE_HOME": "/s"}, absent, "/c/leavend/leavend.toml", "/s/leavend"},
		{"a relative path", 1000, map[string]string{"HOME": "/home/b", "XDG_CONFIG_HOME": "c"}, absent, "/home/b/.config/leavend/leavend.toml", "/home/b/.local/state/leavend"},
		{"the board has one", 1000, map[string]string{"HOME": "/home/b"}, there, there, "/home/b/.local/state/leavend"},
		{"root", 0, map[string]string{"HOME": "/root"}, absent, absent, "/root/.local/state/leavend"},
		{"no home", 1000, nil, absent, absent, ""},
		{"named by the environment", 1000, map[string]string{"HOME": "/home/b", "LEAVEND_CONFIG": "/x.toml"}, there, "/x.toml", "/home/b/.local/state/leavend"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := person{tt.uid, func(name string) string { return tt.env[name] }}
			if got := p.configFile(tt.boards); got != tt.config {
				t.Errorf("configuration %s, want %s", got, tt.config)
			}
			if got := p.stateDir(); got != tt.state {
				t.Errorf("history in %s, want %s", got, tt.state)
			}
		})
	}
}

// The first configuration is written once, and never over another.
func TestMakeConfig(t *testing.T) {
	home := t.TempDir()
	p := person{1000, func(name string) string { return map[string]string{"HOME": home}[name] }}
	var said bytes.Buffer
	for range 2 {
		if err := p.makeConfig(p.ownConfig(), &said); err != nil {
			t.Fatal(err)
		}
	}
	if n := strings.Count(said.String(), "leavend made "); n != 1 {
		t.Errorf("made %d times: %s", n, said.String())
	}
	c, err := config.Load(p.ownConfig())
	if err != nil || c.DataDir != p.stateDir() {
		t.Errorf("the history lies in %v, %v; want %s", c, err, p.stateDir())
	}
	elsewhere := filepath.Join(home, "other.toml")
	if err := p.makeConfig(elsewhere, &said); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(elsewhere); err == nil {
		t.Error("a configuration was made where the user named one")
	}
}
