package deploy_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The real daemon, watched by strace, makes no system call that the unit would
// forbid. A call that is refused is seen at a baker's board first, and only
// when the part that needs it runs: here is the place to find it.
func TestUnitAllowsWhatTheDaemonCalls(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the daemon")
	}
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is not here (Debian package strace)")
	}
	allowed := allowedCalls(t)
	dir := t.TempDir()
	binary := filepath.Join(dir, "leavend")
	if out, err := exec.Command("go", "build", "-o", binary, "../cmd/leavend").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	called := trace(t, strace, binary, dir)
	if len(called) < 20 || !slices.Contains(called, "futex") {
		t.Fatalf("the trace is of no use: %v", called)
	}
	// SQLite gives its files to their folder's owner when it runs as root,
	// which it does in a test at most.
	alsoAsRoot := []string{"fchown", "fchown32"}
	for _, call := range called {
		if !allowed[call] && !(os.Geteuid() == 0 && slices.Contains(alsoAsRoot, call)) {
			t.Errorf("the daemon calls %s, which the unit forbids", call)
		}
	}
}

// allowedCalls works the unit's filter out: its lines add and, with "~", take
// away.
func allowedCalls(t *testing.T) map[string]bool {
	t.Helper()
	out, err := exec.Command("systemd-analyze", "--no-pager", "syscall-filter").Output()
	if err != nil {
		t.Skipf("systemd-analyze does not tell its sets here: %v", err)
	}
	sets, name := map[string][]string{}, ""
	for _, line := range strings.Split(string(out), "\n") {
		switch text := strings.TrimSpace(line); {
		case strings.HasPrefix(line, "@"):
			name = text
		case text != "" && text[0] != '#':
			sets[name] = append(sets[name], text)
		}
	}
	var calls func(word string) []string
	calls = func(word string) (all []string) {
		if word[0] != '@' {
			return []string{word}
		}
		for _, w := range sets[word] {
			all = append(all, calls(w)...)
		}
		return all
	}
	allowed := map[string]bool{}
	for i, filter := range unit(t, "leavend.service")["SystemCallFilter"] {
		add := filter[0] != '~'
		if i == 0 && !add {
			t.Fatal("the first filter takes away, so that everything else is allowed")
		}
		for _, word := range strings.Fields(strings.TrimPrefix(filter, "~")) {
			for _, call := range calls(word) {
				allowed[call] = add
			}
		}
	}
	// systemd lets every unit have these, whatever its filter says.
	for _, call := range calls("@default") {
		allowed[call] = true
	}
	return allowed
}

// trace runs the daemon with a page, a broker, metrics, a history and a
// playback until it has been asked for each, and returns what it called.
func trace(t *testing.T, strace, binary, dir string) []string {
	t.Helper()
	page, metrics := free(t), free(t)
	files := map[string]string{
		"r.csv": "time,distance_mm,temperature_c,note\n2026-11-25T08:00:00Z,100,24,fed\n2026-11-25T08:00:10Z,99,24,\n2026-11-25T08:00:20Z,99,24,\n",
		"leavend.toml": fmt.Sprintf("data_dir = %q\n[[sensor]]\nname = \"play\"\nchip = \"recording\"\nfile = \"r.csv\"\nloop = true\n"+
			"[[vessel]]\nname = \"Bramble\"\ndistance = \"play\"\ntemperature = \"play\"\nevery = \"1s\"\n"+
			"[web]\nlisten = %q\ntls = \"self-made\"\n[metrics]\nlisten = %q\n[mqtt]\nlisten = %q\n", dir, page, metrics, free(t)),
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	log := filepath.Join(dir, "calls")
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, strace, "-f", "-q", "-o", log, binary, "run", "--config", filepath.Join(dir, "leavend.toml"))
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	up := false
	for end := time.Now().Add(4 * time.Minute); !up && time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		up = answers(page) && answers(metrics)
	}
	_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGTERM) // strace passes it on
	err := cmd.Wait()
	if !up {
		if strings.Contains(said.String(), "ptrace") {
			t.Skipf("strace may not work here: %s", said.String())
		}
		t.Fatalf("the daemon did not come up: %v\n%s", err, said.String())
	}
	return names(t, log)
}

// names returns the calls in a log of strace.
func names(t *testing.T, log string) []string {
	t.Helper()
	f, err := os.Open(log)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	call := regexp.MustCompile(`^\d+\s+(?:<\.\.\. )?([a-z0-9_]+)(?:\(| resumed>)`)
	var out []string
	for in := bufio.NewScanner(f); in.Scan(); {
		if m := call.FindStringSubmatch(in.Text()); m != nil && !slices.Contains(out, m[1]) {
			out = append(out, m[1])
		}
	}
	return out
}

// free returns an address on which no program listens, below the ports that Linux
// gives to outgoing connections, and apart from those of other packages.
func free(t *testing.T) string {
	t.Helper()
	for range 1000 {
		address := fmt.Sprintf("127.0.0.1:%d", 12000+rand.IntN(4000))
		if l, err := net.Listen("tcp", address); err == nil {
			l.Close()
			return address
		}
	}
	t.Fatal("no port is free")
	return ""
}

func answers(address string) bool {
	c, err := net.DialTimeout("tcp", address, time.Second)
	if err != nil {
		return false
	}
	return c.Close() == nil
}
