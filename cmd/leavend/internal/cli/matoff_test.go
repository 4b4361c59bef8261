package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/control/plug"
)

// What mat off says where no daemon answers, and that it never ends with 0
// where the output is not known to be off and to stay so.
func TestMatOffWithoutDaemon(t *testing.T) {
	dir := t.TempDir()
	note := func(name, text string) string {
		path := filepath.Join(dir, name)
		configtest.WriteFile(t, path, text)
		return path
	}
	own := filepath.Join(dir, "own.json")
	off := []plug.Message{{Topic: "cmnd/oven/Backlog0", Payload: "Power1 OFF"}}
	if err := heating.WriteNote(own, heating.Note{DataDir: dir, Plug: &heating.Plug{Off: off, Lease: time.Minute}}); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"a mistyped note", []string{"--state", filepath.Join(dir, "none.json")}, failure.Failed, "none.json: no such file"},
		{"empty note", []string{"--state", note("empty.json", "{}")}, failure.Failed, "another version"},
		{"a note without an output", []string{"--state", note("bare.json", `{"version":2}`)}, failure.Failed, "names no output"},
		{"torn note", []string{"--state", note("torn.json", `{"version":1,"li`)}, failure.Failed, "cannot be understood"},
		{"a newer note", []string{"--state", note("new.json", `{"version":3,"line":{"line":"17"}}`)}, failure.Failed, "another version"},
		{"a note that says there is no mat", []string{"--state", note("no-mat.json", `{"version":2,"none":true}`)}, failure.Done, "had no mat when it ran last"},
		{"a chip that is not there", []string{"--line", "17", "--chip", "/dev/gpiochip-none"}, failure.Failed, "mat off: gpio"},
		{"plug of an older note", []string{"--state", note("old.json", `{"version":1,"pid":999999999,"plug":{"broker":"mqtt://127.0.0.1:1","off":[]}}`)}, failure.Failed, "cannot be reached"},
		{"a configuration that is not there", []string{"--config", filepath.Join(dir, "none.toml")}, failure.Usage, "no configuration at"},
		{"an argument too many", []string{"now"}, failure.Usage, "is one argument too many"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for range 2 { // it must work twice
				code, said := matOffSays(tt.args...)
				if code != tt.code || !strings.Contains(said, tt.says) {
					t.Errorf("exit %d, %q; want %d and %q", code, said, tt.code, tt.says)
				}
				if code == failure.Failed && !strings.Contains(strings.ToLower(said), "pull the mat's plug") {
					t.Errorf("it does not say what is sure: %q", said)
				}
			}
		})
	}
}

// systemd runs this after each end of the daemon. It must not keep the next
// start from heating, and has nothing to complain about where all went well.
func TestMatOffAfterExit(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("RUNTIME_DIRECTORY", dir)
	note := filepath.Join(dir, heating.NoteName)
	after := func(code int, says string) {
		t.Helper()
		if got, said := matOffSays("--after-exit"); got != code || !strings.Contains(said, says) {
			t.Errorf("exit %d, %q; want %d and %q", got, said, code, says)
		}
		if heating.Held(dir) {
			t.Error("the mat would stay off after a restart")
		}
	}
	after(failure.Done, "no mat was opened")
	if err := heating.WriteNote(note, heating.Note{DataDir: dir, Plug: &heating.Plug{Lease: time.Minute}}); err != nil {
		t.Fatal(err)
	}
	after(failure.Failed, "its own timer switches it off within 60 s")
	if err := heating.NoteOff(note, time.Now()); err != nil {
		t.Fatal(err)
	}
	after(failure.Done, "the plug said that it is off")
	if err := heating.WriteNote(note, heating.Note{DataDir: dir, None: true}); err != nil {
		t.Fatal(err)
	}
	after(failure.Done, "no mat was opened")
}

func matOffSays(args ...string) (code int, said string) {
	var out bytes.Buffer
	code = Execute(context.Background(), append([]string{"mat", "off"}, args...), &out, &out)
	return code, out.String()
}

// The kernel's list of sockets names the folder of every daemon. The lines are
// in the form of proc_net(5), with an abstract socket and one that is connected.
func TestFoldersOfDaemons(t *testing.T) {
	const list = `Num       RefCount Protocol Flags    Type St Inode Path
0000000000000000: 00000002 00000000 00010000 0001 01 21018 /run/leavend/leavend.sock
0000000000000000: 00000003 00000000 00000000 0001 03 21019 /run/leavend/leavend.sock
0000000000000000: 00000002 00000000 00010000 0001 01 21020 /home/baker/my data/leavend.sock
0000000000000000: 00000002 00000000 00010000 0001 01 21021 @/tmp/other
0000000000000000: 00000002 00000000 00010000 0001 01 21022 /run/other.sock
`
	if got, want := foldersIn(list), []string{"/run/leavend", "/home/baker/my data"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// BenchmarkMatOff measures the command apart from the process's start.
func BenchmarkMatOff(b *testing.B) {
	for b.Loop() {
		var out bytes.Buffer
		Execute(context.Background(), []string{"mat", "off", "--state", "/none"}, &out, &out)
	}
}
