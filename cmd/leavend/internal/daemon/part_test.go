package daemon

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor/sim"
)

// partConfig is one jar on a mat, with every part on ports of its own.
func partConfig(dir, page, metrics, broker string) string {
	return fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "over Bramble"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "over Bramble"
temperature = "over Bramble"
floor_mm = 215
every = "1s"
[mat]
output = "kitchen"
vessel = "Bramble"
setpoint_c = 26
min_off = "30s"
[[notify]]
name = "baker"
url = "https://hook.invalid/baker"
kinds = ["store-trouble"]
`, dir) + page + metrics + broker
}

// missingPart is a part that is taken away and put back.
type missingPart struct {
	name, conf  string
	reason      event.Reason
	part, topic string // of the alarm; of the failed check
	take, back  func(t *testing.T)
	works       func() bool // once it is back
	noPage      bool        // the page cannot tell, for it is the missing part
}

// TestPartsMayBeMissing takes each part away before the start and puts it back
// while the daemon runs: sensing and heating go on, an alarm stands until the
// part is back, and 'leavend check' says the same.
func TestPartsMayBeMissing(t *testing.T) {
	t.Parallel()
	for _, p := range missingParts(t) {
		t.Run(p.name, func(t *testing.T) { t.Parallel(); p.play(t) })
	}
}

func (p missingPart) play(t *testing.T) {
	p.take(t)
	file := configtest.Write(t, p.conf)
	report := &check.Report{}
	bench := &hardware.Registry{}
	hands := check.Checker{Board: check.ThisBoard(), I2c: check.OpenI2C, Open: bench.Open}
	hands.All(t.Context(), report, file, false)
	if !report.Failed(p.topic) {
		t.Errorf("check finds nothing to repair at %s: %+v", p.topic, report.Results)
	}
	d, told := openLive(t, file)
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: p.reason, Part: p.part}
	stands := func() (event.Alarm, bool) {
		for _, a := range d.Alarms.Of(event.SubjectDaemon) {
			if a.Key == key {
				return a, true
			}
		}
		return event.Alarm{}, false
	}
	leavendtest.Eventually(t, "an alarm stands", func() bool { _, ok := stands(); return ok })
	a, _ := stands()
	t.Log(a.Say.In(text.Reader{}), "|", a.Detail)
	if p.reason == event.PartMissing {
		leavendtest.Eventually(t, "a message goes out", func() bool { return strings.Contains(told(), a.Say.In(text.Reader{})) })
	}
	atWork(t, d)
	if got := pageTells(d); !p.noPage && !strings.Contains(got, a.Say.In(text.Reader{})) {
		t.Errorf("the page tells %q, want %q", got, a.Say.In(text.Reader{}))
	}
	p.back(t)
	leavendtest.Eventually(t, "the alarm is over", func() bool { _, ok := stands(); return !ok })
	leavendtest.Eventually(t, "the part works", p.works)
	atWork(t, d)
}

// pageTells is what the page shows, as it goes over the line.
func pageTells(d *Daemon) string {
	r := httptest.NewRequest("GET", "http://127.0.0.1/api/v1/now", nil)
	r.RemoteAddr = "127.0.0.1:4711"
	w := httptest.NewRecorder()
	d.page.Handler().ServeHTTP(w, r)
	return w.Body.String()
}

// atWork waits for a new reading and a new decision of the mat.
func atWork(t *testing.T, d *Daemon) {
	t.Helper()
	readAt := func() (at time.Time) { // zero before the first reading
		if read := d.Vessels[0].Status(time.Now()).ReadAt; read != nil {
			at = *read
		}
		return at
	}
	read, decided := readAt(), d.Mat.State().At
	leavendtest.Eventually(t, "the jar is read and the mat decides", func() bool {
		return readAt().After(read) && d.Mat.State().At.After(decided) && d.Mat.State().Mode == control.Hold
	})
}

// openLive runs a daemon of the invented kitchen until the test ends; told is
// what its recipient was sent.
func openLive(t *testing.T, file string) (d *Daemon, told func() string) {
	t.Helper()
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	k := invented(t)
	mat, err := k.Mat(sim.Bramble)
	if err != nil {
		t.Fatal(err)
	}
	inbox := &testPhone{}
	d, err = New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{
		Agreed: true, Mat: mat, Note: filepath.Join(conf.DataDir, "mat.json"),
		Simulated: simulated(k), Sender: func(string, string) (notify.Sender, error) { return inbox, nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Mat.SetMode(time.Now(), control.Hold); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return d, func() string {
		all, _ := inbox.of(notify.Storage)
		var b strings.Builder
		for _, l := range all {
			b.WriteString(l.Text)
		}
		return b.String()
	}
}

// missingParts are all parts, each missing in its own way.
func missingParts(t *testing.T) []missingPart {
	t.Helper()
	pair := pemPair(t)
	free := func() string { return freeport.Address(t) }
	off := func(table string) string { return "[" + table + "]\non = false\n" }
	page := func(at string) string { return fmt.Sprintf("[web]\nlisten = %q\n", at) }
	var all []missingPart
	file := func(name, topic, key string, p missingPart, path, bad string, good []byte, works func() bool) {
		p.name, p.topic, p.part, p.reason, p.works = name, topic, key, event.PartMissing, works
		p.take = func(t *testing.T) {
			if bad != "" {
				configtest.WriteFile(t, path, bad)
			}
		}
		p.back = func(t *testing.T) { configtest.WriteFile(t, path, string(good)) }
		all = append(all, p)
	}
	answers := func(url string) func() bool {
		return func() bool {
			r, err := insecure().Get(url)
			if err != nil {
				return false
			}
			defer r.Body.Close()
			return r.StatusCode == http.StatusOK
		}
	}
	dials := func(at string) func() bool {
		return func() bool {
			c, err := net.Dial("tcp", at)
			if err == nil {
				c.Close()
			}
			return err == nil
		}
	}
	for _, bad := range []string{"", "no certificate"} {
		dir, at := t.TempDir(), free()
		cert := filepath.Join(dir, "page.pem")
		p := missingPart{noPage: true, conf: partConfig(dir, page(at)+fmt.Sprintf("tls = \"files\"\ncert_file = %q\nkey_file = %q\n", cert, cert), off("metrics"), off("mqtt"))}
		file("page certificate "+bad, "page", "web.listen", p, cert, bad, pair, answers("https://"+at+"/"))

		dir, at = t.TempDir(), free()
		webConfig := filepath.Join(dir, "web.yml")
		p = missingPart{conf: partConfig(dir, page(free()), fmt.Sprintf("[metrics]\nlisten = %q\nweb_config_file = %q\n", at, webConfig), off("mqtt"))}
		file("metrics web config "+bad, "metrics", "metrics.listen", p, webConfig, bad, []byte("{}\n"), answers("http://"+at+"/metrics"))

		dir, at = t.TempDir(), free()
		cert, password := filepath.Join(dir, "broker.pem"), filepath.Join(dir, "password")
		configtest.WriteFile(t, password, "crumb\n")
		p = missingPart{conf: partConfig(dir, page(free()), off("metrics"), fmt.Sprintf("[mqtt]\nlisten = %q\nlisten_tls = %q\ncert_file = %q\nkey_file = %q\nuser = \"baker\"\npassword_file = %q\n", free(), at, cert, cert, password))}
		file("broker certificate "+bad, "mqtt", "mqtt.listen_tls", p, cert, bad, pair, dials(at))
	}
	dir, at := t.TempDir(), free()
	password := filepath.Join(dir, "password")
	p := missingPart{conf: partConfig(dir, page(free()), off("metrics"), fmt.Sprintf("[mqtt]\nlisten = %q\nuser = \"baker\"\npassword_file = %q\n", at, password))}
	file("broker password", "mqtt password", "mqtt.listen", p, password, "", []byte("crumb\n"), dials(at))

	dir, at = t.TempDir(), free()
	p = missingPart{conf: partConfig(dir, page(at), off("metrics"), off("mqtt"))}
	access := filepath.Join(dir, "page-access.json")
	file("access file", "page", "page access", p, access, "{", []byte("{}"), answers("http://"+at+"/api/v1/now"))

	for topic, key := range map[string]string{"page": "web.listen", "metrics": "metrics.listen", "mqtt": "mqtt.listen"} {
		ports := map[string]string{"page": free(), "metrics": free(), "mqtt": free()}
		var other net.Listener
		at := ports[topic]
		all = append(all, missingPart{
			name: "port of " + topic, topic: topic, reason: event.PartMissing, part: key, noPage: topic == "page",
			conf: partConfig(t.TempDir(), page(ports["page"]), fmt.Sprintf("[metrics]\nlisten = %q\n", ports["metrics"]), fmt.Sprintf("[mqtt]\nlisten = %q\n", ports["mqtt"])),
			take: func(t *testing.T) {
				var err error
				if other, err = net.Listen("tcp", at); err != nil {
					t.Fatal(err)
				}
			},
			back: func(*testing.T) { other.Close() }, works: dials(at),
		})
	}
	for _, key := range []string{"ca_file", "password_file"} {
		all = append(all, farBroker(t, key))
	}
	return all
}

// farBroker is another broker, of whose login one file is missing.
func farBroker(t *testing.T, key string) missingPart {
	t.Helper()
	dir := t.TempDir()
	pair, ca := leavendtest.SelfSigned(t, net.IPv4(127, 0, 0, 1))
	authority, err := os.ReadFile(ca)
	if err != nil {
		t.Fatal(err)
	}
	at := leavendtest.StartBroker(t, &pair)
	files := map[string]string{"ca_file": string(authority), "password_file": "crumb\n"}
	conf := fmt.Sprintf("[mqtt]\nurl = \"mqtts://%s\"\nuser = \"baker\"\n", at)
	for k := range files {
		conf += fmt.Sprintf("%s = %q\n", k, filepath.Join(dir, k))
	}
	return missingPart{
		name: "another broker's " + key, topic: "mqtt", reason: event.BrokerUnreached,
		conf: partConfig(t.TempDir(), fmt.Sprintf("[web]\nlisten = %q\n", freeport.Address(t)), "[metrics]\non = false\n", conf),
		take: func(t *testing.T) {
			for k, text := range files {
				if k != key {
					configtest.WriteFile(t, filepath.Join(dir, k), text)
				}
			}
		},
		back:  func(t *testing.T) { configtest.WriteFile(t, filepath.Join(dir, key), files[key]) },
		works: func() bool { return true }, // the alarm clears with the connection
	}
}

// pemPair is a certificate with its key in one file.
func pemPair(t *testing.T) []byte {
	t.Helper()
	pair, ca := leavendtest.SelfSigned(t, net.IPv4(127, 0, 0, 1))
	both, err := os.ReadFile(ca)
	if err != nil {
		t.Fatal(err)
	}
	key, err := x509.MarshalPKCS8PrivateKey(pair.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	return append(both, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key})...)
}

// insecure is a client that takes any certificate.
func insecure() *http.Client {
	return &http.Client{Timeout: leavendtest.Patience, Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, DisableKeepAlives: true}}
}

// TestOthersReadNothing runs a daemon under the usual umask: no other account on
// the board can read the history, the push keys in it, or the page's password.
func TestOthersReadNothing(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data")
	at := freeport.Address(t)
	d, _ := openLive(t, configtest.Write(t, partConfig(dir, fmt.Sprintf("[web]\nlisten = %q\ntls = \"self-made\"\n", at), "[metrics]\non = false\n", "[mqtt]\non = false\n")))
	atWork(t, d)
	leavendtest.Eventually(t, "the page is there", func() bool {
		answer, err := insecure().Get("https://" + at + "/api/v1/session")
		if err == nil {
			answer.Body.Close()
		}
		return err == nil
	})
	// Once and no more: with a password chosen, another choice is refused.
	r, err := http.NewRequest("PUT", "https://"+at+"/api/v1/password", strings.NewReader(`{"new":"flour and water"}`))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	answer, err := insecure().Do(r)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("a password is not taken: %v, %v", answer, err)
	}
	answer.Body.Close()
	seen := 0
	err = filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := e.Info()
		if err == nil && info.Mode().Perm()&0o007 != 0 {
			t.Errorf("%s is %v", path, info.Mode())
		}
		seen++
		return err
	})
	if err != nil || seen < 4 {
		t.Errorf("%d files, %v", seen, err)
	}
}
