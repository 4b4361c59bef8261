package cli

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
)

// planted are words that may not be in a support file, one for each place
// where a secret can stand.
func planted() []string {
	var all []string
	for i := range 24 {
		all = append(all, fmt.Sprintf("hush%02dQz!7", i))
	}
	return all
}

// secretConfig puts a secret into every key that may bear one, and into the
// places where people put them by mistake.
func secretConfig(dir string, p []string) string {
	return fmt.Sprintf(`
data_dir = %q
[[sensor]]
name = "make-believe"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "make-believe"
[mqtt]
url = "mqtt://192.0.2.1:1"
user = "leavend"
password = %q
# password = %q
[[notify]]
name = "phone"
url = "https://baker:%s@hook.invalid/%s?auth=%s#%s"
key = '%s'
[[notify]]
name = "kitchen"
url_file = "kitchen-url"
key_env = "LEAVEND_TEST_HOOK_KEY"
`, dir, p[0], p[1], p[2], p[3], p[4], p[5], p[6])
}

// plantFiles puts secrets into the file and the variable that it names.
func plantFiles(t *testing.T, dir string, p []string) {
	t.Helper()
	configtest.WriteFile(t, filepath.Join(dir, "kitchen-url"), "https://hook.invalid/"+p[7]+"\n")
	t.Setenv("LEAVEND_TEST_HOOK_KEY", p[8])
}

// plantHistory lets faults and events tell secrets, as an error of a service
// does that quotes the address it failed at.
func plantHistory(t *testing.T, dir string, p []string) {
	t.Helper()
	s, _, err := store.Open(t.Context(), filepath.Join(dir, "leavend.db"), store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	says := fmt.Sprintf("post https://hook.invalid/%s?auth=%s: no answer; mqtt://leavend:%s@192.0.2.1 neither; %s", p[3], p[4], p[0], p[7])
	data, _ := json.Marshal(map[string]string{"text": says})
	if _, err := s.Journal.AddEvent(t.Context(), store.Event{At: time.Now(), Kind: "fault", Data: data}); err != nil {
		t.Fatal(err)
	}
}

// supportFile gathers a support file and returns its parts.
func supportFile(t *testing.T, conf string) map[string]string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "help.zip")
	board := check.ThisBoard()
	board.Root = t.TempDir() // a board without buses: nothing real is read
	if err := newSupport(conf, board).write(t.Context(), name); err != nil {
		t.Fatal(err)
	}
	archive, err := zip.OpenReader(name)
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	parts := map[string]string{}
	for _, f := range archive.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		parts[f.Name] = string(text)
	}
	return parts
}

// noSecrets looks for the planted words in every part.
func noSecrets(t *testing.T, parts map[string]string, p []string) {
	t.Helper()
	for name, text := range parts {
		for i, secret := range p {
			if strings.Contains(text, secret) || strings.Contains(text, secret[:8]) {
				t.Errorf("%s tells secret %d:\n%s", name, i, text)
			}
		}
	}
}

func TestSupportTellsNoSecret(t *testing.T) {
	dir, p := t.TempDir(), planted()
	plantFiles(t, dir, p)
	conf := filepath.Join(dir, "leavend.toml")
	if err := os.WriteFile(conf, []byte(secretConfig(dir, p)), 0o600); err != nil {
		t.Fatal(err)
	}
	plantHistory(t, dir, p)
	parts := supportFile(t, conf)
	noSecrets(t, parts, p)
	// It must still be of use.
	for name, want := range map[string]string{
		"version.txt": "leavend ", "config.toml": "url = \"mqtt://192.0.2.1:1\"", "check.json": `"ok":`,
		"faults.json": "no answer", "events.json": "no answer", "sizes.txt": "leavend.db",
		"readings-bramble.csv": "time,", "log.txt": "", "metrics.txt": "",
	} {
		if text, ok := parts[name]; !ok || !strings.Contains(text, want) {
			t.Errorf("%s lacks %q:\n%s", name, want, text)
		}
	}
	if !strings.Contains(parts["config.toml"], "password = (hidden)") {
		t.Errorf("config.toml does not say that there is a password:\n%s", parts["config.toml"])
	}
}

// A support file is wanted most when the configuration has mistakes. Secrets
// hide in lines that no reader understands.
func TestSupportTellsNoSecretOfABrokenConfig(t *testing.T) {
	dir, p := t.TempDir(), planted()
	text := fmt.Sprintf(`
data_dir = %q
pasword = %q
mqtt.password = %q
[mqtt]
pass word = %s
Password: %s
password = %q # %s
password_file = %s
url = "mqtts://leavend:%s/%s@broker.invalid:8883"
listne = "%s"
[[notify]
name = "x"
[[notify]]
url = """
https://hook.invalid/%s
"""
key = { value = %q }
[wifi]
psk = "%s"
`, dir, p[9], p[10], p[11], p[12], p[13], p[14], p[15], p[16], p[17], p[18], p[19], p[20], p[21])
	conf := filepath.Join(dir, "leavend.toml")
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	parts := supportFile(t, conf)
	noSecrets(t, parts, p)
	if !strings.Contains(parts["check.json"], `"fail"`) {
		t.Errorf("check.json does not tell of the mistakes:\n%s", parts["check.json"])
	}
}

// A file that exists is somebody's.
func TestSupportKeepsAFile(t *testing.T) {
	name := filepath.Join(t.TempDir(), "bakes.zip")
	if err := os.WriteFile(name, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if code := Execute(t.Context(), []string{"support", name}, &out, &errs); code != failure.Failed {
		t.Errorf("exit %d, want %d: %s", code, failure.Failed, errs.String())
	}
	if text, err := os.ReadFile(name); string(text) != "mine" {
		t.Errorf("the file now says %q, %v", text, err)
	}
}

// TestSupportLeavesOutTheSetupCode plants the code with which the page's first
// password is chosen into the log.
func TestSupportLeavesOutTheSetupCode(t *testing.T) {
	dir := t.TempDir()
	script := "#!/bin/sh\necho 'msg=\"web: no password is set\" setup_code=04217735'\necho 'msg=\"web: no password is set\" code=04217735'\n"
	if err := os.WriteFile(filepath.Join(dir, "journalctl"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", dir+":"+os.Getenv("PATH"))
	conf := filepath.Join(dir, "leavend.toml")
	configtest.WriteFile(t, conf, fmt.Sprintf("data_dir = %q\n", dir))
	log := supportFile(t, conf)["log.txt"]
	if strings.Contains(log, "04217735") || strings.Count(log, "no password is set") != 2 {
		t.Errorf("the log in the support file: %s", log)
	}
}
