package cli

import (
	"crypto/tls"
	"encoding/json"
	"net/http"
	"os"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
)

// TestWebOpen opens the page of a daemon that runs with the shipped
// configuration, without anybody editing it, and closes it again.
func TestWebOpen(t *testing.T) {
	address, dir := leavendtest.FreePort(t), t.TempDir()
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
