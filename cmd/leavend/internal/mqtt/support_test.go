package mqtt

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// patience is how long these tests wait for something to happen. It is generous: a
// slow machine is no fault.
const patience = 2 * time.Minute

// quick makes a client that connects again at once, for tests on one machine.
func quick(c *Client) *Client {
	c.timing.firstWait = 20 * time.Millisecond
	c.timing.birthSpread = time.Millisecond
	c.timing.lastWait = 200 * time.Millisecond
	c.timing.goodbye = patience // what a busy machine needs is not tested
	return c
}

// newClient returns an impatient client or fails the test.
func newClient(t testing.TB, address string, o Opts) *Client {
	t.Helper()
	c, err := New(withLogin(address, o))
	if err != nil {
		t.Fatal(err)
	}
	return quick(c)
}

// subscribed reports whether a client is connected and its subscriptions are made.
func (c *Client) subscribed() bool {
	s := c.live.Load()
	return s != nil && s.open() && s.greeted.Load()
}

// run runs something with a Run method until the test ends or stop is called.
func run(t testing.TB, f func(context.Context) error) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- f(ctx) }()
	stop = sync.OnceFunc(func() {
		cancel()
		select {
		case err := <-done:
			if err != nil {
				t.Errorf("Run: %v", err)
			}
		case <-time.After(2 * patience):
			t.Error("Run does not end")
		}
	})
	t.Cleanup(stop)
	return stop
}

// eventually waits for a condition.
func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited in vain: %s", what)
}

// realPeer skips the test when a program is not installed, or fails it where
// LEAVEND_REAL_PEERS=1 says that it must be.
func realPeer(t testing.TB, name, debianPackage string) string {
	t.Helper()
	for _, dir := range append(filepath.SplitList(os.Getenv("PATH")), "/usr/sbin", "/usr/bin") {
		path := filepath.Join(dir, name)
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			return path
		}
	}
	text := fmt.Sprintf("%s is not installed: apt-get install %s", name, debianPackage)
	if os.Getenv("LEAVEND_REAL_PEERS") == "1" {
		t.Fatal(text)
	}
	t.Skip(text)
	return ""
}

// mosquitto is the real broker as a child process.
type mosquitto struct {
	t    testing.TB
	conf string
	port int
	cmd  *exec.Cmd
}

// newMosquitto writes a config for a free port and starts the broker with it.
func newMosquitto(t testing.TB, lines ...string) *mosquitto {
	t.Helper()
	realPeer(t, "mosquitto", "mosquitto")
	m := &mosquitto{t: t, port: freePort(t), conf: filepath.Join(t.TempDir(), "mosquitto.conf")}
	if len(lines) == 0 {
		lines = []string{"allow_anonymous true"}
	}
	if os.Getuid() == 0 {
		lines = append(lines, "user root") // it must read the test's own files
	}
	text := fmt.Sprintf("listener %d 127.0.0.1\n%s\n", m.port, strings.Join(lines, "\n"))
	if err := os.WriteFile(m.conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	m.start()
	t.Cleanup(m.stop)
	return m
}

func (m *mosquitto) start() {
	m.t.Helper()
	m.cmd = exec.Command(realPeer(m.t, "mosquitto", "mosquitto"), "-c", m.conf)
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	eventually(m.t, "mosquitto listens", func() bool {
		c, err := net.Dial("tcp", m.host())
		if err == nil {
			c.Close()
		}
		return err == nil
	})
}

// stop ends the broker in order, so that it writes down its sessions.
func (m *mosquitto) stop() {
	if m.cmd != nil {
		m.cmd.Process.Signal(syscall.SIGTERM)
		m.cmd.Wait()
		m.cmd = nil
	}
}

func (m *mosquitto) host() string { return fmt.Sprintf("127.0.0.1:%d", m.port) }
func (m *mosquitto) url() string  { return "mqtt://" + m.host() }

func freePort(t testing.TB) int {
	t.Helper()
	address, err := net.ResolveTCPAddr("tcp", freeport.Address(t))
	if err != nil {
		t.Fatal(err)
	}
	return address.Port
}

// listener is mosquitto_sub as a child process, and the lines it printed:
// "retained topic payload".
type listener struct {
	mu    sync.Mutex
	lines []string
}

// listen starts mosquitto_sub and waits until it is subscribed.
func listen(t testing.TB, port int, args ...string) *listener {
	t.Helper()
	marker := fmt.Sprintf("marker/%d", time.Now().UnixNano())
	args = append([]string{"-h", "127.0.0.1", "-p", fmt.Sprint(port), "-q", "1", "-F", "%r %t %p", "-t", marker}, args...)
	cmd := exec.Command(realPeer(t, "mosquitto_sub", "mosquitto-clients"), args...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	l := new(listener)
	go func() {
		for s := bufio.NewScanner(out); s.Scan(); {
			l.mu.Lock()
			l.lines = append(l.lines, s.Text())
			l.mu.Unlock()
		}
	}()
	var login []string
	for i, a := range args {
		if a == "-u" || a == "-P" || a == "--cafile" {
			login = append(login, a, args[i+1])
		}
	}
	eventually(t, "mosquitto_sub is subscribed", func() bool {
		say(t, port, append(login, "-t", marker, "-m", "here")...)
		return l.count(marker+" here") > 0
	})
	return l
}

// say publishes with mosquitto_pub.
func say(t testing.TB, port int, args ...string) error {
	t.Helper()
	args = append([]string{"-h", "127.0.0.1", "-p", fmt.Sprint(port)}, args...)
	return exec.Command(realPeer(t, "mosquitto_pub", "mosquitto-clients"), args...).Run()
}

// all returns the lines so far that hold part.
func (l *listener) all(part string) []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []string
	for _, line := range l.lines {
		if strings.Contains(line, part) {
			out = append(out, line)
		}
	}
	return out
}

func (l *listener) count(part string) int { return len(l.all(part)) }

// wait waits for a line that holds part.
func (l *listener) wait(t testing.TB, part string) {
	t.Helper()
	eventually(t, "a message with "+part, func() bool { return l.count(part) > 0 })
}
