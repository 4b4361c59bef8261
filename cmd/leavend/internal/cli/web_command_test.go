package cli

import (
	"crypto/tls"
	"encoding/json"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// TestWebOpen opens the page of a daemon that runs with the shipped
// configuration, without anybody editing it, and closes it again.
func TestWebOpen(t *testing.T) {
	address, dir := freeport.Address(t), t.TempDir()
	text := strings.NewReplacer("/var/lib/leavend\"\n\n# What people", dir+"\"\n\n# What people", "127.0.0.1:8420", address,
		"[mqtt]\non = true", "[mqtt]\non = false", "[metrics]\non = true", "[metrics]\non = false").Replace(config.Reference())
	file := configtest.Write(t, text)
	leavendtest.Start(t, program("run", "--config", file))
	web := func(stdin string, args ...string) (string, error) {
		cmd := program(append(append([]string{"web"}, args...), "--config", file)...)
		cmd.Stdin = strings.NewReader(stdin)
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	leavendtest.Eventually(t, "the daemon says that only this board reaches its page", func() bool {
		out, err := web("", "show")
		return err == nil && strings.Contains(out, "Only this board")
	})
	if out, err := web("1\nshort\n", "open"); err == nil || !strings.Contains(out, "8 to 72") {
		t.Errorf("a short password: %v, %s", err, out)
	}
	out, err := web("1\nflour and water\n", "open")
	if err != nil || !strings.Contains(out, "https://") || !strings.Contains(out, "▀") || strings.Contains(out, "set-up code") {
		t.Fatalf("%v, %s", err, out)
	}
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	answer, err := client.Get("https://" + address + "/api/session")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var session struct {
		Set bool `json:"password_set"`
		TLS bool `json:"tls"`
	}
	if err := json.NewDecoder(answer.Body).Decode(&session); err != nil || !session.Set || !session.TLS {
		t.Errorf("the page says %+v, %v", session, err)
	}
	// Again, another way, without a question about the password.
	if out, err := web("", "open", "--tls", "off"); err != nil || !strings.Contains(out, "http://") || strings.Contains(out, "assword") {
		t.Errorf("%v, %s", err, out)
	}
	if out, err := web("", "close"); err != nil {
		t.Errorf("%v, %s", err, out)
	}
	if now, err := os.ReadFile(file); err != nil || string(now) != text {
		t.Errorf("closed again, the configuration differs: %s", config.Difference([]byte(text), now))
	}
}

// TestDrawQR draws each module in its place, with a light edge of four.
func TestDrawQR(t *testing.T) {
	got := drawQR([]string{"101", "010", "111"}, false)
	const want = `███████████
███████████
████▄▀▄████
████▄▄▄████
███████████
███████████
`
	if strings.TrimRight(got, "\n") != strings.TrimRight(want, "\n") {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// TestRestartIsNoStopForSystemd listens where systemd would: a daemon that starts
// again with other settings must not say that it stops, or systemd kills it when
// it has not ended in TimeoutStopSec=.
func TestRestartIsNoStopForSystemd(t *testing.T) {
	dir := t.TempDir()
	systemd, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(dir, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer systemd.Close()
	heard := make(chan string, 100)
	go func() {
		defer close(heard)
		for buf := make([]byte, 4096); ; {
			n, err := systemd.Read(buf)
			if err != nil {
				return
			}
			heard <- string(buf[:n])
		}
	}()
	file := configtest.Write(t, "data_dir = \""+dir+"\"\n[mqtt]\non = false\n[metrics]\non = false\n[web]\nlisten = \""+freeport.Address(t)+"\"\n")
	daemon := program("run", "--config", file)
	daemon.Env = append(daemon.Env, "NOTIFY_SOCKET="+systemd.LocalAddr().String())
	leavendtest.Start(t, daemon)
	if got := <-heard; got != "READY=1" {
		t.Fatalf("systemd hears %q first", got)
	}
	open := program("web", "open", "--tls", "off", "--config", file)
	open.Stdin = strings.NewReader("flour and water\n")
	if out, err := open.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if got := <-heard; got != "READY=1" {
		t.Errorf("systemd hears %q when the daemon starts again", got)
	}
	if err := daemon.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if got := <-heard; got != "STOPPING=1" {
		t.Errorf("systemd hears %q when the daemon is to end", got)
	}
}
