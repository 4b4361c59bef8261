package metrics

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/bcrypt"

	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// realPeer skips the test when a program is not installed, or fails it where
// LEAVEND_REAL_PEERS=1 says that it must be.
func realPeer(t testing.TB, name, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	text := fmt.Sprintf("%s is not installed: apt-get install %s", name, debianPackage)
	if os.Getenv("LEAVEND_REAL_PEERS") == "1" {
		t.Fatal(text)
	}
	t.Skip(text)
	return ""
}

func TestPromtoolAcceptsThePage(t *testing.T) {
	cmd := exec.Command(realPeer(t, "promtool", "prometheus"), "check", "metrics")
	cmd.Stdin = strings.NewReader(page(t, full()))
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("promtool check metrics: %v\n%s", err, out)
	}
}

// serve shows m on a free port until the test ends.
func serve(t *testing.T, m *Metrics, webConfig string) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- m.Serve(ctx, l, webConfig, slog.New(slog.DiscardHandler)) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Serve: %v", err)
		}
	})
	return l.Addr().String()
}

func TestBasicAuth(t *testing.T) {
	hash, err := bcrypt.GenerateFromPassword([]byte("rye"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(t.TempDir(), "web.yml")
	if err := os.WriteFile(config, fmt.Appendf(nil, "basic_auth_users:\n  baker: %s\n", hash), 0o600); err != nil {
		t.Fatal(err)
	}
	address := serve(t, full(), config)
	for _, tt := range []struct {
		password string
		want     int
	}{{"", 401}, {"wheat", 401}, {"rye", 200}} {
		req, _ := http.NewRequest("GET", "http://"+address+"/metrics", nil)
		if tt.password != "" {
			req.SetBasicAuth("baker", tt.password)
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != tt.want {
			t.Errorf("password %q: status %d, want %d", tt.password, res.StatusCode, tt.want)
		}
	}
}

func TestBrokenWebConfigIsRefused(t *testing.T) {
	config := filepath.Join(t.TempDir(), "web.yml")
	if err := os.WriteFile(config, []byte("basic_auth: yes\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{config, filepath.Join(t.TempDir(), "none.yml")} {
		if err := CheckWebConfig(path); err == nil {
			t.Errorf("%s is accepted", path)
		}
	}
}

// scraper starts a real server that scrapes target every second, and
// returns a function that asks it.
func scraper(t testing.TB, targets ...string) (query func(expr string) []sample) {
	t.Helper()
	program := realPeer(t, "prometheus", "prometheus")
	dir := t.TempDir()
	address := freeport.Address(t)
	config := filepath.Join(dir, "prometheus.yml")
	text := fmt.Sprintf("global: {scrape_interval: 1s, scrape_timeout: 1s}\nscrape_configs:\n- job_name: leavend\n  static_configs: [{targets: [%s]}]\n", strings.Join(targets, ", "))
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	cmd := exec.Command(program, "--config.file="+config, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address)
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
		if t.Failed() {
			t.Log(said.String())
		}
	})
	return func(expr string) []sample {
		res, err := http.Get("http://" + address + "/api/v1/query?query=" + url.QueryEscape(expr))
		if err != nil {
			return nil
		}
		defer res.Body.Close()
		var answer struct {
			Data struct{ Result []sample }
		}
		body, _ := io.ReadAll(res.Body)
		if json.Unmarshal(body, &answer) != nil {
			return nil
		}
		return answer.Data.Result
	}
}

// sample is one line of Prometheus's answer.
type sample struct {
	Metric map[string]string
	Value  [2]any
}

func TestRealPrometheusSeesEverySeries(t *testing.T) {
	t.Parallel() // it waits for scrapes
	query := scraper(t, serve(t, full(), ""))
	end := time.Now().Add(5 * time.Minute)
	for len(query("up == 1")) == 0 {
		if time.Now().After(end) {
			t.Fatal("the target is not up")
		}
		time.Sleep(100 * time.Millisecond)
	}
	// On a busy machine a later scrape may come too late, which ends every series.
	for _, name := range names() {
		if len(query("last_over_time("+name+"[5m])")) == 0 {
			t.Errorf("Prometheus does not know %s", name)
		}
	}
	if got := query(`last_over_time(leavend_rise_ratio{vessel="bramble"}[5m])`); len(got) != 1 || got[0].Value[1] != "1.83" {
		t.Errorf("leavend_rise_ratio is %v, want 1.83", got)
	}
}
