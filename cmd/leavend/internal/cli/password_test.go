package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/leavendtest"
)

// TestPasswordForget asks first, and forgets only at a yes.
func TestPasswordForget(t *testing.T) {
	dir := t.TempDir()
	conf, kept := filepath.Join(dir, "leavend.toml"), filepath.Join(dir, "page-access.json")
	for file, text := range map[string]string{conf: leavendtest.JarConfig(dir), kept: "{}"} {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	forget := func(said string, more ...string) (string, error) {
		root, out := newRoot(), &bytes.Buffer{}
		root.SetArgs(append([]string{"password", "forget", "--config", conf}, more...))
		root.SetIn(strings.NewReader(said))
		root.SetOut(out)
		err := root.ExecuteContext(t.Context())
		return out.String(), err
	}
	for _, said := range []string{"", "\n", "no\n"} {
		if _, err := forget(said); err == nil {
			t.Errorf("%q was taken for a yes", said)
		}
		if _, err := os.Stat(kept); err != nil {
			t.Fatal("it was forgotten all the same:", err)
		}
	}
	out, err := forget("yes\n")
	if err != nil || !strings.Contains(out, "set-up code") {
		t.Errorf("%v, said %q", err, out)
	}
	if _, err := os.Stat(kept); err == nil {
		t.Error("the password is still there")
	}
	if _, err := forget("", "--yes"); err == nil {
		t.Error("nothing was there to forget, and that is no error")
	}
}
