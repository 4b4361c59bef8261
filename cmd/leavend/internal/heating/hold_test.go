package heating

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// The word to stay off counts in any folder, also where it cannot be read, and
// is gone once it was taken back.
func TestHold(t *testing.T) {
	data, run := t.TempDir(), t.TempDir()
	if Held(data, run) {
		t.Error("it stands before anybody left it")
	}
	if err := HoldOff(data, run); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{data, run} {
		if !Held(dir) {
			t.Errorf("it does not stand in %s", dir)
		}
	}
	if err := LiftHold(data, run); err != nil || Held(data, run) {
		t.Errorf("it stands after it was taken back: %v", err)
	}
	if err := LiftHold(data, run); err != nil {
		t.Errorf("taken back twice: %v", err)
	}
	if err := HoldOff(filepath.Join(data, "none"), run); err == nil {
		t.Error("a data folder that is not there takes it")
	}
	if !Held(data, run) {
		t.Error("the runtime folder does not have it where the data folder fails")
	}
}

// A note is private, whole, and tells its process from another one of the same
// number.
func TestNote(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run", NoteName)
	want := Note{DataDir: "/data", Line: &Line{Chip: "/dev/gpiochip0", Line: "17"}}
	if err := WriteNote(path, want); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v: a password may stand in it", info.Mode())
	}
	got, err := ReadNote(path)
	if err != nil || *got.Line != *want.Line || got.DataDir != "/data" || got.PID != os.Getpid() || got.Started == 0 {
		t.Errorf("got %+v, %v", got, err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), ".mat-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	at := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC)
	if err := NoteOff(path, at); err != nil {
		t.Fatal(err)
	}
	if got, err = ReadNote(path); err != nil || !got.OffAt.Equal(at) || got.Line == nil {
		t.Errorf("got %+v, %v", got, err)
	}
}

// A note may hold anything: one that is taken names an output, or says that
// there is none, in a form that this version knows.
func FuzzReadNote(f *testing.F) {
	for _, s := range []string{`{"version":2,"line":{"line":"17"}}`, `{"version":1,"plug":{"off":[]}}`, `{"version":2,"none":true}`, `{"version":3}`, `{`, ``} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		path := filepath.Join(t.TempDir(), NoteName)
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		n, err := ReadNote(path)
		if err == nil && (n.Version < 1 || n.Version > noteVersion || n.Line == nil && n.Plug == nil && !n.None) {
			t.Errorf("taken: %+v", n)
		}
	})
}

// Only the process that a note names is ended, be it stopped, and not one that
// has its number since.
func TestEndProcess(t *testing.T) {
	cmd := exec.Command("sleep", "1000")
	if err := cmd.Start(); err != nil {
		t.Skip(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	started, err := ProcessStart(cmd.Process.Pid)
	if err != nil {
		t.Fatal(err)
	}
	other := Process{PID: cmd.Process.Pid, Started: started + 1}
	if other.Alive() {
		t.Error("another process of the same number counts as alive")
	}
	if err := other.End(); err != nil {
		t.Error(err)
	}
	it := Process{PID: cmd.Process.Pid, Started: started}
	if !it.Alive() {
		t.Fatal("it was ended in place of another")
	}
	if out, err := exec.Command("kill", "-STOP", "--", strconv.Itoa(it.PID)).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if err := it.End(); err != nil {
		t.Error(err)
	}
	if <-ended == nil || it.Alive() {
		t.Error("it was not ended")
	}
}
