package config

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// write writes a file below a fresh folder and returns its path.
func write(t *testing.T, name, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// secretOf is the broker's password in a configuration that stands in dir.
func secretOf(t *testing.T, dir, line string) Secret {
	t.Helper()
	text := "[mqtt]\n" + line
	if line != "" {
		text += "\nuser = \"baker\"\n"
	}
	c, err := Parse([]byte(text), filepath.Join(dir, "leavend.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return c.MQTT.Password
}

func TestReveal(t *testing.T) {
	t.Setenv("LEAVEND_TEST_CRUMB", "from the environment")
	t.Setenv("LEAVEND_TEST_EMPTY", "")
	file := write(t, "password", "from a file\n")
	tests := []struct{ name, line, want, fails string }{
		{"in the config", `password = "crumb"`, "crumb", ""},
		{"in a file", fmt.Sprintf("password_file = %q", file), "from a file", ""},
		{"in a file beside the config", `password_file = "password"`, "from a file", ""},
		{"in a file with the line ends of another system", fmt.Sprintf("password_file = %q", write(t, "p", "crumb\r\n")), "crumb", ""},
		{"blanks belong to it", fmt.Sprintf("password_file = %q", write(t, "p", " cr umb \n")), " cr umb ", ""},
		{"in a variable", `password_env = "LEAVEND_TEST_CRUMB"`, "from the environment", ""},
		{"in a variable that is not set", `password_env = "LEAVEND_TEST_NONE"`, "", "no variable LEAVEND_TEST_NONE"},
		{"in a variable that is empty", `password_env = "LEAVEND_TEST_EMPTY"`, "", "no variable LEAVEND_TEST_EMPTY"},
		{"in a file that is not there", `password_file = "none"`, "", "none: no such file"},
		{"in a file that is empty", fmt.Sprintf("password_file = %q", write(t, "empty", "\n")), "", "empty is empty"},
		{"in a folder", fmt.Sprintf("password_file = %q", t.TempDir()), "", "secret: "},
		{"nowhere", "", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := secretOf(t, filepath.Dir(file), tt.line).Reveal()
			if tt.fails == "" && (err != nil || got != tt.want) {
				t.Errorf("got %q, %v, want %q", got, err, tt.want)
			}
			if tt.fails != "" && (err == nil || !strings.Contains(err.Error(), tt.fails)) {
				t.Errorf("got %v, want an error with %q", err, tt.fails)
			}
		})
	}
}

// However a secret is printed, it says where it is and never what it is.
func TestSecretIsNeverPrinted(t *testing.T) {
	t.Setenv("LEAVEND_TEST_CRUMB", "verysecret")
	file := write(t, "password", "verysecret\n")
	tests := []struct{ name, line, says string }{
		{"in the config", `password = "verysecret"`, "in the config file"},
		{"in a file", fmt.Sprintf("password_file = %q", file), "in file " + file},
		{"in a variable", `password_env = "LEAVEND_TEST_CRUMB"`, "in variable LEAVEND_TEST_CRUMB"},
		{"none", "", "none"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := secretOf(t, t.TempDir(), tt.line)
			if _, err := s.Reveal(); err != nil {
				t.Fatal(err)
			}
			asJSON, err := json.Marshal(s)
			if err != nil {
				t.Fatal(err)
			}
			var log strings.Builder
			slog.New(slog.NewTextHandler(&log, nil)).Info("connect", "password", s)
			for how, text := range map[string]string{
				"%v": fmt.Sprintf("%v", s), "%+v": fmt.Sprintf("%+v", struct{ S Secret }{s}), "%#v": fmt.Sprintf("%#v", s),
				"%q": fmt.Sprintf("%q", s), "JSON": string(asJSON), "a log": log.String(),
			} {
				if strings.Contains(text, "verysecret") || !strings.Contains(text, tt.says) {
					t.Errorf("%s prints %s, want %q", how, text, tt.says)
				}
			}
			if s.IsSet() != (tt.line != "") {
				t.Errorf("IsSet() = %v", s.IsSet())
			}
		})
	}
	if got := secretOf(t, "/etc/leavend", `password_file = "p"`).File(); got != "/etc/leavend/p" {
		t.Errorf("its file is %q", got)
	}
}
