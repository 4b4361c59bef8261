package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/control/plug"
)

func TestMatOff(t *testing.T) {
	dir := t.TempDir()
	note := func(name, text string) string {
		path := filepath.Join(dir, name)
		configtest.WriteFile(t, path, text)
		return path
	}
	plugNote := filepath.Join(dir, "plug.json")
	off := []plug.Message{{Topic: "cmnd/oven/Backlog0", Payload: "Power1 OFF"}}
	if err := writeMatState(plugNote, matState{Plug: &matPlug{Off: off, Lease: time.Minute}}); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"a mistyped note", []string{"--state", filepath.Join(dir, "none.json")}, failure.Failed, "none.json: no such file"},
		{"empty note", []string{"--state", note("empty.json", "{}")}, failure.Done, "no mat was opened here"},
		{"torn note", []string{"--state", note("torn.json", `{"version":1,"li`)}, failure.Failed, "cannot tell which mat"},
		{"a chip that is not there", []string{"--line", "17", "--chip", "/dev/gpiochip-none"}, failure.Failed, "mat off: gpio"},
		{"plug on the daemon's own broker", []string{"--state", plugNote}, failure.Done, "lets go by itself within 1m0s"},
		{"an argument too many", []string{"now"}, failure.Usage, "is too much"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for range 2 { // it must work twice
				var out bytes.Buffer
				code := execute(context.Background(), append([]string{"mat", "off"}, tt.args...), &out, &out)
				if code != tt.code || !strings.Contains(out.String(), tt.says) {
					t.Errorf("exit %d, %q; want %d and %q", code, out.String(), tt.code, tt.says)
				}
			}
		})
	}
}

func TestMatStateIsPrivateAndWhole(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run", "mat.json")
	want := matState{Line: &matLine{Chip: "/dev/gpiochip0", Line: "17"}}
	if err := writeMatState(path, want); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v: a password may stand in it", info.Mode())
	}
	got, found, err := readMatState(path)
	if err != nil || !found || *got.Line != *want.Line || got.PID != os.Getpid() {
		t.Errorf("got %+v, %v, %v", got, found, err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), ".mat-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// BenchmarkMatOff measures the command apart from the process's start.
func BenchmarkMatOff(b *testing.B) {
	for b.Loop() {
		var out bytes.Buffer
		execute(context.Background(), []string{"mat", "off", "--state", "/none"}, &out, &out)
	}
}
