package cli

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/store"
)

// What a newcomer types wrongly is answered with what was wrong and what to do,
// in no library's words.
func TestNewcomersMistakes(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "leavend.toml")
	configtest.WriteFile(t, file, "data_dir = "+strconv.Quote(dir)+"\n")
	tests := []struct {
		args string
		code int
		want string
	}{
		{"frobnicate", failure.Usage, "there is no command “frobnicate”"},
		{"run extra", failure.Usage, "“extra” is one argument too many; usage: leavend run"},
		{"replay", failure.Usage, "an argument is missing; usage: leavend replay FILE..."},
		{"replay --nope x", failure.Usage, "Try 'leavend replay --help'."},
		{"backup a b", failure.Usage, "“b” is one argument too many; usage: leavend backup FILE"},
		{"demo --speed x", failure.Usage, "--speed: “x” cannot be read"},
		{"mat of", failure.Usage, "there is no command “of”"},
		{"mat off x", failure.Usage, "“x” is one argument too many"},
		{"mat off --state DIR/none.json", failure.Failed, "none.json: no such file"},
		{"export --config DIR/none.toml", failure.Usage, "'leavend config > DIR/none.toml' makes one"},
		{"support --config FILE DIR/none/s.zip", failure.Failed, "there is no folder DIR/none; make it"},
		{"support --config FILE FILE", failure.Failed, "leavend.toml is there already; choose another name"},
		{"replay DIR/none.csv", failure.Failed, "none.csv: there is no such file"},
	}
	german := []struct {
		args string
		code int
		want string
	}{
		{"frobnicate", failure.Usage, "einen Befehl „frobnicate“ gibt es nicht\nMehr sagt ‚leavend --help‘."},
		{"replay --nope x", failure.Usage, "eine Option --nope gibt es nicht"},
		{"backup --store", failure.Usage, "--store braucht einen Wert"},
		{"mat off --state DIR/none.json", failure.Failed, "Zieh sicherheitshalber den Stecker der Matte."},
		{"mat allow --config FILE", failure.Failed, "mat allow: leavend läuft nicht; starte es zuerst"},
		{"export --config DIR/none.toml", failure.Usage, "eine Konfiguration DIR/none.toml gibt es nicht"},
		{"support --config FILE FILE", failure.Failed, "leavend.toml gibt es schon; nimm einen anderen Namen"},
	}
	for i, tt := range append(tests, german...) {
		t.Run(tt.args, func(t *testing.T) {
			t.Setenv("LC_ALL", "C")
			if i >= len(tests) {
				t.Setenv("LC_ALL", "de_DE.UTF-8")
			}
			real := strings.NewReplacer("DIR", dir, "FILE", file)
			var stderr bytes.Buffer
			if code := Execute(t.Context(), strings.Fields(real.Replace(tt.args)), io.Discard, &stderr); code != tt.code {
				t.Errorf("exit %d, want %d", code, tt.code)
			}
			if want := strings.NewReplacer("DIR", dir).Replace(tt.want); !strings.Contains(stderr.String(), want) {
				t.Errorf("%q is not said in:\n%s", want, stderr.String())
			}
			for _, theirs := range []string{"arg(s)", "strconv"} {
				if strings.Contains(stderr.String(), theirs) {
					t.Errorf("a library's word, %q, in:\n%s", theirs, stderr.String())
				}
			}
		})
	}
}

// A second daemon on the same history ends before it switches anything on, says
// who has the history, and sends no one to pull a plug.
func TestSecondDaemonIsNoAlarm(t *testing.T) {
	file, dir := farConfig(t, "127.0.0.1:1", freeport.Address(t), freeport.Address(t))
	if err := os.Mkdir(filepath.Join(dir, "data"), 0o700); err != nil {
		t.Fatal(err)
	}
	first, _, err := store.Open(t.Context(), filepath.Join(dir, "data", "leavend.db"), store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	var stderr bytes.Buffer
	if code := Execute(t.Context(), []string{"run", "--config", file}, io.Discard, &stderr); code != failure.Failed {
		t.Errorf("exit %d, want %d", code, failure.Failed)
	}
	if said := stderr.String(); !strings.Contains(said, "is leavend running?") || strings.Contains(said, "pull its plug") {
		t.Errorf("it says:\n%s", said)
	}
}

// The history in memory of a process that is no more makes room for the next.
func TestTemporaryStoreMakesRoom(t *testing.T) {
	ended := exec.Command("true")
	if err := ended.Run(); err != nil {
		t.Fatal(err)
	}
	in := t.TempDir()
	old := filepath.Join(in, "leavend-"+strconv.Itoa(ended.Process.Pid)+"-123")
	alive := filepath.Join(in, "leavend-"+strconv.Itoa(os.Getpid())+"-123")
	strange := filepath.Join(in, "leavend-notes-2026")
	for _, d := range []string{old, alive, strange} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	dir, err := daemon.TemporaryDir(in)
	if err != nil {
		t.Fatal(err)
	}
	for d, want := range map[string]bool{old: false, alive: true, strange: true, dir: true} {
		if _, err := os.Stat(d); (err == nil) != want {
			t.Errorf("%s is there: %v, want %v", d, err == nil, want)
		}
	}
}
