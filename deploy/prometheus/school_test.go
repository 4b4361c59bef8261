// Package prometheus tests the deployment that a kitchen school would have:
// many boards, one mosquitto and one Prometheus, all of them real programs.
package prometheus

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// The school: boards with jars, each jar sampled once a second, which is ten
// times as often as the default.
const (
	boards = 10
	jars   = 5
)

// lesson is how long the numbers are taken.
func lesson() time.Duration {
	if os.Getenv("LEAVEND_LONG") == "1" {
		return 5 * time.Minute
	}
	return 10 * time.Second
}

func TestSchool(t *testing.T) {
	if testing.Short() {
		t.Skip("ten daemons are not short")
	}
	broker := startMosquitto(t)
	w := watch(t, broker)
	program := build(t)
	curve := unpack(t)
	var pages []string
	for i := range boards {
		pages = append(pages, startBoard(t, program, curve, i, broker))
	}
	prom := startPrometheus(t, pages)
	eventually(t, "every page is scraped", func() bool { return prom.number(`count(up{job="leavend"} == 1)`) == boards })
	eventually(t, "every jar is heard", func() bool { return w.jars() == boards*jars })

	// Numbers over a stretch of ordinary work.
	before, began := w.messages(), time.Now()
	cpu := prom.number(`sum(process_cpu_seconds_total{job="leavend"})`)
	time.Sleep(lesson())
	rate := float64(w.messages()-before) / time.Since(began).Seconds()

	// Every jar is fed by topic; each command must be answered by an event.
	for i := range boards {
		for j := range jars {
			w.lib.Publish(fmt.Sprintf("leavend/board-%d/jar-%d/fed/set", i, j), 1, false, "PRESS")
		}
	}
	eventually(t, "every feed is told", func() bool { return w.events("fed") >= boards*jars })

	// What the daemons say the broker has, the witness has seen.
	said, connections := 0.0, 0.0
	for _, page := range pages {
		said += onPage(t, page, "leavend_mqtt_states_sent_total")
		if lost := onPage(t, page, "leavend_mqtt_events_lost_total"); lost != 0 {
			t.Errorf("%s: %v events lost", page, lost)
		}
		connections += onPage(t, page, "leavend_mqtt_connections_total")
	}
	eventually(t, "all that was said is seen", func() bool { return float64(w.messages()) >= said })

	cpu = (prom.number(`sum(process_cpu_seconds_total{job="leavend"})`) - cpu) / boards / time.Since(began).Seconds()
	memory := prom.number(`max(process_resident_memory_bytes{job="leavend"})`) / (1 << 20)
	t.Logf("%d daemons, %d jars: %.0f messages/s through one broker over %.0f connections, loss 0; %.1f %% of a core and at most %.0f MB for each daemon",
		boards, boards*jars, rate, connections, 100*cpu, memory)
	// A scrape that comes too late on a busy machine ends every series until the next.
	eventually(t, "Prometheus knows the stage of every jar", func() bool { return prom.number(`count(leavend_stage{job="leavend"} == 1)`) == boards*jars })
}

// witness sees every message of every board.
type witness struct {
	lib mqtt.Client

	mu     sync.Mutex // guards all below
	states int
	seen   map[string]bool // topics of states
	kinds  map[string]map[string]bool
}

func watch(t *testing.T, broker string) *witness {
	t.Helper()
	w := &witness{seen: map[string]bool{}, kinds: map[string]map[string]bool{}}
	w.lib = mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + broker))
	if token := w.lib.Connect(); !token.WaitTimeout(2*time.Minute) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	t.Cleanup(func() { w.lib.Disconnect(0) })
	if token := w.lib.Subscribe("#", 1, w.hear); !token.WaitTimeout(2*time.Minute) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	return w
}

func (w *witness) hear(_ mqtt.Client, m mqtt.Message) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case strings.HasSuffix(m.Topic(), "/event"):
		var e struct {
			Kind string `json:"event_type"`
			ID   string `json:"id"`
		}
		if json.Unmarshal(m.Payload(), &e) == nil {
			if w.kinds[e.Kind] == nil {
				w.kinds[e.Kind] = map[string]bool{}
			}
			w.kinds[e.Kind][m.Topic()] = true
		}
	case strings.HasSuffix(m.Topic(), "/set"), strings.HasSuffix(m.Topic(), "/status"):
	default:
		w.states++
		// leavend/board-0/jar-0/state is a jar's, leavend/board-0/state the daemon's.
		if strings.Contains(m.Topic(), "/jar-") && strings.HasSuffix(m.Topic(), "/state") {
			w.seen[m.Topic()] = true
		}
	}
}

func (w *witness) messages() int { w.mu.Lock(); defer w.mu.Unlock(); return w.states }
func (w *witness) jars() int     { w.mu.Lock(); defer w.mu.Unlock(); return len(w.seen) }
func (w *witness) events(kind string) int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.kinds[kind])
}

// build makes the program under test.
func build(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "leavend")
	if out, err := exec.Command("go", "build", "-o", path, "leavend/cmd/leavend").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	return path
}

// unpack writes out one invented curve for the jars to play.
func unpack(t *testing.T) string {
	t.Helper()
	f, err := os.Open("../../testdata/curves/clean-00.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "curve.csv")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// startBoard runs one daemon and returns the address of its metrics page.
func startBoard(t *testing.T, program, curve string, board int, broker string) string {
	t.Helper()
	dir, page := t.TempDir(), freeAddress(t)
	var b strings.Builder
	fmt.Fprintf(&b, "data_dir = %q\n", dir)
	for j := range jars {
		fmt.Fprintf(&b, "[[sensor]]\nname = \"s%d\"\nchip = \"recording\"\nfile = %q\nspeed = 60.0\nloop = true\n", j, curve)
		fmt.Fprintf(&b, "[[vessel]]\nname = \"Jar %d\"\nkind = \"jar\"\ndistance = \"s%d\"\ntemperature = \"s%d\"\nevery = \"1s\"\n", j, j, j)
	}
	fmt.Fprintf(&b, "[mqtt]\nurl = \"mqtt://%s\"\nprefix = \"leavend/board-%d\"\n[web]\non = false\n[metrics]\nlisten = %q\n", broker, board, page)
	conf := filepath.Join(dir, "leavend.toml")
	if err := os.WriteFile(conf, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	start(t, program, "run", "--config", conf)
	return page
}

func startMosquitto(t *testing.T) string {
	t.Helper()
	address := freeAddress(t)
	_, port, _ := net.SplitHostPort(address)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, []byte("listener "+port+" 127.0.0.1\nallow_anonymous true\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	start(t, realPeer(t, "mosquitto"), "-c", conf)
	eventually(t, "mosquitto listens", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return address
}

// server is a real Prometheus.
type server string

// startPrometheus runs our own example config with other targets.
func startPrometheus(t *testing.T, pages []string) server {
	t.Helper()
	text, err := os.ReadFile("prometheus.yml")
	if err != nil {
		t.Fatal(err)
	}
	rules, err := filepath.Abs("leavend.rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	conf := strings.NewReplacer("localhost:9747", strings.Join(pages, ", "), "interval: 15s", "interval: 1s", "leavend.rules.yml", rules).Replace(string(text))
	dir, address := t.TempDir(), freeAddress(t)
	path := filepath.Join(dir, "prometheus.yml")
	if err := os.WriteFile(path, []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	start(t, realPeer(t, "prometheus"), "--config.file="+path, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address, "--log.level=error")
	return server(address)
}

// number asks for one number; 0 if there is none.
func (s server) number(expr string) float64 {
	res, err := http.Get("http://" + string(s) + "/api/v1/query?query=" + url.QueryEscape(expr))
	if err != nil {
		return 0
	}
	defer res.Body.Close()
	var answer struct {
		Data struct{ Result []struct{ Value [2]any } }
	}
	if json.NewDecoder(res.Body).Decode(&answer) != nil || len(answer.Data.Result) == 0 {
		return 0
	}
	text, _ := answer.Data.Result[0].Value[1].(string)
	n, _ := strconv.ParseFloat(text, 64)
	return n
}

// onPage reads one series without labels from a metrics page.
func onPage(t *testing.T, page, name string) float64 {
	t.Helper()
	res, err := http.Get("http://" + page + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if value, ok := strings.CutPrefix(line, name+" "); ok {
			n, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
	}
	t.Fatalf("%s shows no %s", page, name)
	return 0
}

// start runs a program until the test ends and shows what it said if it fails.
func start(t *testing.T, program string, args ...string) {
	t.Helper()
	var said strings.Builder
	cmd := exec.Command(program, args...)
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		stop := time.AfterFunc(20*time.Second, func() { cmd.Process.Kill() })
		cmd.Wait()
		stop.Stop()
		if t.Failed() {
			t.Logf("%s %v\n%s", program, args, said.String())
		}
	})
}

// realPeer skips the test when a program is not installed, or fails it where
// LEAVEND_REAL_PEERS=1 says that it must be.
func realPeer(t *testing.T, name string) string {
	t.Helper()
	for _, dir := range append(filepath.SplitList(os.Getenv("PATH")), "/usr/sbin") {
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil && !info.IsDir() {
			return filepath.Join(dir, name)
		}
	}
	text := fmt.Sprintf("%s is not installed: apt-get install %s", name, name)
	if os.Getenv("LEAVEND_REAL_PEERS") == "1" {
		t.Fatal(text)
	}
	t.Skip(text)
	return ""
}

// freeAddress returns an address on which no program listens, below the ports that
// Linux gives to outgoing connections, and apart from those of other packages.
func freeAddress(t *testing.T) string {
	t.Helper()
	for range 1000 {
		address := fmt.Sprintf("127.0.0.1:%d", 16000+rand.IntN(4000))
		if l, err := net.Listen("tcp", address); err == nil {
			l.Close()
			return address
		}
	}
	t.Fatal("no port is free")
	return ""
}

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited in vain: %s", what)
}
