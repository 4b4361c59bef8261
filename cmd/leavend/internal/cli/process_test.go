package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// The tests of this file run the program as a process of its own, against a
// real broker and a real Prometheus.

// actAsProgram, set in the environment, makes the test binary the program.
const actAsProgram = "LEAVEND_TEST_ACTS_AS_PROGRAM"

func TestMain(m *testing.M) {
	if err := os.Setenv("LC_ALL", "C"); err != nil { // what is printed is held in English
		panic(err)
	}
	if os.Getenv(actAsProgram) != "" {
		ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
		code := Execute(ctx, os.Args[1:], os.Stdout, os.Stderr)
		stop()
		os.Exit(code)
	}
	// Most of the tests that run at once wait for a daemon, and use no processor.
	flag.Parse()
	if err := flag.Set("test.parallel", "12"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// program returns a command that runs leavend with the given arguments.
func program(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), actAsProgram+"=1")
	return cmd
}

// startBroker starts a real mosquitto and returns its address.
func startBroker(t *testing.T) string {
	t.Helper()
	address := freeport.Address(t)
	_, port, _ := net.SplitHostPort(address)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	text := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\n", port)
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	leavendtest.Start(t, exec.Command(leavendtest.RealPeer(t, "mosquitto", "mosquitto"), "-c", conf))
	leavendtest.Eventually(t, "the broker listens", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return address
}

// plugKeeper is a plug with a timer of its own, and the sensors beside it, on
// the other side of the broker.
type plugKeeper struct {
	client mqtt.Client

	mu       sync.Mutex // guards what follows
	tempC    float64    // sent while not silent
	silent   bool
	on       bool
	until    time.Time
	orders   []string
	retained int // orders that came from the broker's memory
	said     map[string][]string
}

// newPlugKeeper connects to the broker and starts to send.
func newPlugKeeper(t *testing.T, address string) *plugKeeper {
	t.Helper()
	p := &plugKeeper{tempC: 20, said: map[string][]string{}}
	o := mqtt.NewClientOptions().AddBroker("tcp://" + address).SetClientID("plug").SetOrderMatters(false)
	o.SetOnConnectHandler(func(c mqtt.Client) {
		c.Subscribe("plug/set", 0, func(_ mqtt.Client, m mqtt.Message) { p.obey(m) })
		c.Subscribe("leavend/#", 1, func(_ mqtt.Client, m mqtt.Message) { p.note(m) })
	})
	p.client = mqtt.NewClient(o)
	if tok := p.client.Connect(); !tok.WaitTimeout(leavendtest.Patience) || tok.Error() != nil {
		t.Fatal(tok.Error())
	}
	ctx, stop := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	wg.Go(func() { p.send(ctx) })
	t.Cleanup(func() { stop(); wg.Wait(); p.client.Disconnect(100) })
	return p
}

// obey carries out an order, and echoes it as plugs do.
func (p *plugKeeper) obey(m mqtt.Message) {
	var order struct {
		State string `json:"state"`
		For   int    `json:"on_time"`
	}
	if json.Unmarshal(m.Payload(), &order) != nil {
		return
	}
	p.mu.Lock()
	p.orders = append(p.orders, order.State)
	if m.Retained() {
		p.retained++
	}
	p.on = order.State == "ON"
	p.until = time.Now().Add(time.Duration(order.For) * time.Second)
	p.mu.Unlock()
	p.client.Publish("plug", 0, false, fmt.Sprintf(`{"state":%q}`, order.State))
}

// note keeps what the daemon says.
func (p *plugKeeper) note(m mqtt.Message) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.said[m.Topic()] = append(p.said[m.Topic()], string(m.Payload()))
}

// send sends the sensors' numbers, and lets the plug's timer run out.
func (p *plugKeeper) send(ctx context.Context) {
	tick := time.NewTicker(300 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		p.mu.Lock()
		if p.on && time.Now().After(p.until) {
			p.on = false
		}
		silent, tempC := p.silent, p.tempC
		p.mu.Unlock()
		p.client.Publish("far/distance", 0, false, "120")
		if !silent {
			p.client.Publish("far/probe", 0, false, fmt.Sprintf(`{"t":%v}`, tempC))
		}
	}
}

// isOn reports whether the plug is on.
func (p *plugKeeper) isOn() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.on
}

// quiet stops or resumes the probe's numbers.
func (p *plugKeeper) quiet(silent bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.silent = silent
}

// last returns the newest message on a topic of the daemon's.
func (p *plugKeeper) last(topic string) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if all := p.said[topic]; len(all) > 0 {
		return all[len(all)-1]
	}
	return ""
}

// farConfig is a kitchen whose sensors and plug are all behind the broker.
func farConfig(t *testing.T, broker, metricsAt, pageAt string) (file, dir string) {
	t.Helper()
	dir = t.TempDir()
	file = filepath.Join(dir, "leavend.toml")
	text := fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "eye"
chip = "topic"
quantity = "distance"
topic = "far/distance"
max_age = "5s"
[[sensor]]
name = "crumb"
chip = "topic"
quantity = "temperature"
place = "vessel"
topic = "far/probe"
field = "t"
max_age = "5s"
[[vessel]]
name = "Pilot"
distance = "eye"
temperature = "crumb"
floor_mm = 170
every = "1s"
[mat]
output = "plug"
watts = 20
min_off = "30s"
stale_after = "10s"
lease = "9s"
[mat.plug]
recipe = "custom"
command_topic = "plug/set"
on = '{"state":"ON","on_time":{seconds}}'
off = '{"state":"OFF"}'
state_topic = "plug"
state_field = "state"
state_on = "ON"
state_off = "OFF"
[mqtt]
url = "mqtt://%s"
[web]
listen = %q
[metrics]
listen = %q
`, filepath.Join(dir, "data"), broker, pageAt, metricsAt)
	configtest.WriteFile(t, file, text)
	return file, dir
}

// farDaemon is the program with its plug and its sensors behind a real broker.
type farDaemon struct {
	plug      *plugKeeper
	config    string
	dir       string
	metricsAt string
}

// startFar starts the program, lets its mat heat and waits until it does.
func startFar(t *testing.T) (far farDaemon, daemon *exec.Cmd) {
	t.Helper()
	broker := startBroker(t)
	far = farDaemon{plug: newPlugKeeper(t, broker), metricsAt: freeport.Address(t)}
	far.config, far.dir = farConfig(t, broker, far.metricsAt, freeport.Address(t))
	daemon = leavendtest.Start(t, program("run", "--config", far.config))
	leavendtest.Eventually(t, "the status is online", func() bool { return far.plug.last("leavend/status") == "online" })
	leavendtest.Eventually(t, "the daemon lets its mat heat", func() bool {
		return program("mat", "allow", "--yes", "--config", far.config).Run() == nil
	})
	leavendtest.Eventually(t, "the mat heats once its first pause is over", far.plug.isOn)
	t.Cleanup(func() {
		far.plug.mu.Lock()
		defer far.plug.mu.Unlock()
		if far.plug.retained > 0 {
			t.Errorf("%d orders to the plug were retained by the broker", far.plug.retained)
		}
	})
	return far, daemon
}

// TestProcessIsKilled kills the program while it heats: its last will is told, mat off
// switches its plug off, and it heats again when it is started again.
func TestProcessIsKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes a minute or two")
	}
	t.Parallel()
	far, daemon := startFar(t)
	p := far.plug
	if err := daemon.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	leavendtest.Eventually(t, "the last will is told", func() bool { return p.last("leavend/status") == "offline" })
	out, err := program("mat", "off", "--after-exit", "--state", filepath.Join(far.dir, "data", "mat.json")).CombinedOutput()
	if err != nil {
		t.Errorf("mat off after SIGKILL: %v: %s", err, out)
	}
	leavendtest.Eventually(t, "the mat is off after SIGKILL", func() bool { return !p.isOn() })
	second := leavendtest.Start(t, program("run", "--config", far.config))
	leavendtest.Eventually(t, "the mat heats after the restart", p.isOn)
	goodbye(t, second)
}

// TestProcessEnds asks the program to end while it heats: its plug goes off and it says
// goodbye. Before that a real Prometheus finds every documented series.
func TestProcessEnds(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes a minute")
	}
	t.Parallel()
	far, daemon := startFar(t)
	p := far.plug
	leavendtest.Eventually(t, "the vessel's state is told", func() bool { return strings.Contains(p.last("leavend/pilot/state"), `"temperature_c":20`) })
	everySeries(t, far.metricsAt)
	goodbye(t, daemon)
	leavendtest.Eventually(t, "the mat is off after SIGTERM", func() bool { return !p.isOn() })
	leavendtest.Eventually(t, "the status after SIGTERM is offline", func() bool { return p.last("leavend/status") == "offline" })
}

// TestProcessLosesItsProbe lets the probe fall silent: the mat goes off, and the fault
// is told.
func TestProcessLosesItsProbe(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes a minute")
	}
	t.Parallel()
	far, daemon := startFar(t)
	p := far.plug
	p.quiet(true)
	leavendtest.Eventually(t, "the mat is off with its probe silent", func() bool { return !p.isOn() })
	leavendtest.Eventually(t, "the fault is told", func() bool { return strings.Contains(p.last("leavend/mat/event"), "fault") })
	goodbye(t, daemon)
}

// goodbye asks a program to end and expects that it does so in order.
func goodbye(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("after SIGTERM: %v, want exit 0", err)
	}
}

// everySeries has a real Prometheus scrape the program, and looks for every
// series that the documentation names.
func everySeries(t *testing.T, target string) {
	t.Helper()
	server, dir := leavendtest.RealPeer(t, "prometheus", "prometheus"), t.TempDir()
	address := freeport.Address(t)
	conf := filepath.Join(dir, "prometheus.yml")
	text := fmt.Sprintf("global: {scrape_interval: 1s, scrape_timeout: 1s}\nscrape_configs:\n- job_name: leavend\n  static_configs: [{targets: [%q]}]\n", target)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	leavendtest.Start(t, exec.Command(server, "--config.file="+conf, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address))
	leavendtest.Eventually(t, "Prometheus says that the target is up", func() bool { return strings.Contains(ask(address, "up == 1"), `"value"`) })
	// On a busy machine a later scrape may come too late, which ends every series.
	var missing []string
	for end := time.Now().Add(leavendtest.Patience); time.Now().Before(end); time.Sleep(time.Second) {
		missing = slices.DeleteFunc(seriesNames(t), func(name string) bool {
			return slices.Contains(absentHere, name) || strings.Contains(ask(address, "last_over_time("+name+"[5m])"), `"value"`)
		})
		if len(missing) == 0 {
			return
		}
	}
	t.Errorf("Prometheus does not know %v", missing)
}

// seriesNames are the names of every series in the metrics' documentation. A histogram
// has the three names of its parts.
func seriesNames(t *testing.T) (names []string) {
	t.Helper()
	text, err := os.ReadFile("../metrics/METRICS.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `(\\w+)` \\| (\\w+)").FindAllStringSubmatch(string(text), -1) {
		if m[2] == "histogram" {
			names = append(names, m[1]+"_bucket", m[1]+"_sum", m[1]+"_count")
			continue
		}
		names = append(names, m[1])
	}
	return names
}

// absentHere are the series that a jar without a feed, a mat without a probe
// of its own, and a kitchen without hygrometer and recipients cannot have. The
// metrics package's own test looks for them.
var absentHere = []string{
	"leavend_humidity_ratio", "leavend_mat_temperature_celsius",
	"leavend_last_fed_timestamp_seconds", "leavend_feed_due_timestamp_seconds", "leavend_peak_timestamp_seconds",
	"leavend_peak_forecast_timestamp_seconds", "leavend_peak_forecast_low_timestamp_seconds", "leavend_peak_forecast_high_timestamp_seconds",
	"leavend_forecast_error_seconds_bucket", "leavend_forecast_error_seconds_count", "leavend_forecast_error_seconds_sum",
	"leavend_notifications_failed_total", "leavend_notifications_sent_total", "leavend_notifications_waiting",
}

// ask puts one query to a Prometheus.
func ask(address, query string) string {
	r, err := http.Get("http://" + address + "/api/v1/query?query=" + url.QueryEscape(query))
	if err != nil {
		return ""
	}
	defer r.Body.Close()
	b, _ := io.ReadAll(r.Body)
	return string(b)
}

// TestBrokenConfig ends with exit 2 and says every mistake with its line.
func TestBrokenConfig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "leavend.toml")
	configtest.WriteFile(t, file, "clokc = 24\n[mat]\nsetpoint_c = 62\n")
	var stderr bytes.Buffer
	if code := Execute(t.Context(), []string{"run", "--config", file}, io.Discard, &stderr); code != failure.Usage {
		t.Errorf("exit %d, want %d", code, failure.Usage)
	}
	for _, want := range []string{":1:", "clokc", "clock", ":3:", "setpoint_c", "62"} {
		if !strings.Contains(stderr.String(), want) {
			t.Errorf("%q is missing in:\n%s", want, stderr.String())
		}
	}
}

// TestNothingToWatch tells what to do with a config that watches nothing and
// serves no page to set something up.
func TestNothingToWatch(t *testing.T) {
	file := filepath.Join(t.TempDir(), "leavend.toml")
	configtest.WriteFile(t, file, "[web]\non = false\n")
	var stderr bytes.Buffer
	if code := Execute(t.Context(), []string{"run", "--config", file}, io.Discard, &stderr); code != failure.Usage || !strings.Contains(stderr.String(), "[[vessel]]") {
		t.Errorf("exit %d: %s", code, stderr.String())
	}
}
