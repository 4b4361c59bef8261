package cli

import (
	"bytes"
	"net"
	"regexp"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// TestHealth asks a daemon that runs, and one that does not.
func TestHealth(t *testing.T) {
	file := configtest.Write(t, "data_dir = \""+t.TempDir()+"\"\n[mqtt]\non = false\n[metrics]\non = false\n[web]\nlisten = \""+freeport.Address(t)+"\"\n")
	ask := func() (int, string) {
		var out bytes.Buffer
		code := Execute(t.Context(), []string{"health", "--config", file}, &out, &out)
		return code, out.String()
	}
	if code, said := ask(); code != failure.Failed || !strings.Contains(said, "does not run") {
		t.Errorf("without a daemon: %d %s", code, said)
	}
	leavendtest.Start(t, program("run", "--config", file))
	leavendtest.Eventually(t, "the daemon says that it works", func() bool {
		code, said := ask()
		return code == failure.Done && strings.HasPrefix(said, "leavend works and watches 0 jars and bowls.\n")
	})
}

// TestDemoSaysItsAddressFirst reads what a visitor reads, with free ports and
// with one that another program has.
func TestDemoSaysItsAddressFirst(t *testing.T) {
	out, err := program("demo", "--any-ports", "--for", "1s").CombinedOutput()
	if err != nil || !regexp.MustCompile(`^\nOpen http://127\.0\.0\.1:\d+/ in your browser\.\n\n`).Match(out) {
		t.Errorf("%v: %s", err, out)
	}
	l, err := net.Listen("tcp", "127.0.0.1:8420")
	if err == nil { // else another program has it already
		defer l.Close()
	}
	out, err = program("demo", "--for", "1s").CombinedOutput()
	if err == nil || !strings.Contains(string(out), "leavend demo --any-ports") {
		t.Errorf("with a port that is taken: %v: %s", err, out)
	}
}
