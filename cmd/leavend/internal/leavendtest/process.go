package leavendtest

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// RealPeer finds a program that the test needs. Where it is missing the test
// skips, unless real peers are demanded.
func RealPeer(t *testing.T, name, pkg string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		path, err = exec.LookPath("/usr/sbin/" + name)
	}
	switch {
	case err == nil:
		return path
	case os.Getenv("LEAVEND_REAL_PEERS") != "":
		t.Fatalf("%s is not installed; apt-get install %s", name, pkg)
	}
	t.Skipf("%s is not installed; apt-get install %s runs this test", name, pkg)
	return ""
}

// Patience is how long these tests wait for something to happen. It is
// generous: a slow machine is no fault.
const Patience = 90 * time.Second

// Eventually waits until something is so.
func Eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(Patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if is() {
			return
		}
	}
	t.Fatalf("after %v still not so: %s", Patience, what)
}

// Start starts a process that ends with the test. What it wrote is shown when
// the test fails.
func Start(t *testing.T, cmd *exec.Cmd) *exec.Cmd {
	t.Helper()
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it may have ended already
		_ = cmd.Wait()
		if t.Failed() {
			t.Logf("%s:\n%s", filepath.Base(cmd.Path), said.String())
		}
	})
	return cmd
}
