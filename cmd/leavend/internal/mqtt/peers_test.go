package mqtt

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
)

// TestMain lets the test binary be a daemon that other tests kill.
func TestMain(m *testing.M) {
	if address := os.Getenv("LEAVEND_TEST_DAEMON"); address != "" {
		daemon(address)
	}
	if address := os.Getenv("LEAVEND_TEST_COMMANDER"); address != "" {
		commander(address)
	}
	os.Exit(m.Run())
}

// daemon publishes until it is killed.
func daemon(address string) {
	var events *event.Log
	if path := os.Getenv("LEAVEND_TEST_STORE"); path != "" {
		var err error
		if _, events, err = openLog(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	c, err := New(withLogin(address, Opts{Vessels: []VesselInfo{{ID: "bramble"}}, Events: events}))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	if events != nil {
		happen(c, events)
	}
	c.Vessel(bramble())
	c.events.add(topEvent())
	c.Run(context.Background())
}

func TestMosquittoSeesStateEventsAndLastWill(t *testing.T) {
	m := newMosquitto(t)
	early := listen(t, m.port, "-t", "leavend/#")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "LEAVEND_TEST_DAEMON="+m.url())
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	early.wait(t, "leavend/status online")
	early.wait(t, `leavend/bramble/event {"event_type":"peak"`)
	early.wait(t, `leavend/bramble/state {"ts":"2026-03-14T11:00:00Z","stage":"rising"`)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	early.wait(t, "leavend/status offline")

	late := listen(t, m.port, "-t", "leavend/#")
	late.wait(t, "1 leavend/status offline")
	late.wait(t, "1 leavend/bramble/state")
	if late.count("leavend/bramble/event") != 0 {
		t.Error("an event was retained")
	}
}

func TestMosquittoTLSAndLogin(t *testing.T) {
	_, cert, key := certificate(t)
	passwords := passwordFile(t, "baker", "rye")
	secure := freePort(t)
	newMosquitto(t, fmt.Sprintf("password_file %s\nlistener %d 127.0.0.1\ncertfile %s\nkeyfile %s", passwords, secure, cert, key))
	conf, err := LoadTLS(cert, "", "")
	if err != nil {
		t.Fatal(err)
	}
	as := func(password string) Opts { return Opts{Login: fixed(Login{"baker", password, conf})} }
	address := fmt.Sprintf("mqtts://127.0.0.1:%d", secure)
	wrong := newClient(t, address, as("spelt"))
	run(t, wrong.Run)
	eventually(t, "a wrong password is named as such", func() bool { return contains(strings.ToLower(wrong.Stats().Trouble), "authori") })
	c := newClient(t, address, as("rye"))
	run(t, c.Run)
	eventually(t, "connected over TLS", c.Connected)
}

// passwordFile writes a password file with mosquitto's own tool.
func passwordFile(t *testing.T, pairs ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "passwords")
	os.WriteFile(path, nil, 0o644)
	for i := 0; i < len(pairs); i += 2 {
		if out, err := exec.Command(realPeer(t, "mosquitto_passwd", "mosquitto"), "-b", path, pairs[i], pairs[i+1]).CombinedOutput(); err != nil {
			t.Fatalf("mosquitto_passwd: %v: %s", err, out)
		}
	}
	return path
}

// outage is how long the broker stays away: a minute where LEAVEND_LONG=1.
func outage() time.Duration {
	if campaign.Long() {
		return time.Minute
	}
	return 2 * time.Second
}

// The subscriber keeps its session in the broker, and the broker keeps it
// across its restart, so what one subscriber saw proves what was sent.
func TestBrokerOutage(t *testing.T) {
	m := newMosquitto(t, "allow_anonymous true", "persistence true", "persistence_location "+t.TempDir()+"/")
	c := newClient(t, m.url(), Opts{Vessels: []VesselInfo{{ID: "bramble"}}})
	run(t, c.Run)
	eventually(t, "connected", c.Connected)
	all := listen(t, m.port, "-c", "-i", "witness", "-t", "leavend/#", "-t", "plug/#")

	const total = 60
	sent := 0
	happen := func() {
		if sent < total {
			c.events.add(event.Event{At: noon, Subject: "bramble", Kind: event.Fed, Text: fmt.Sprintf("n%03d", sent)})
			sent++
		}
	}
	for sent < total/3 {
		happen()
	}
	all.wait(t, `"n019"`)
	happen() // on its way while the broker goes
	m.stop()
	refused := 0
	for end := time.Now().Add(outage()); time.Now().Before(end) || refused == 0 && time.Now().Before(end.Add(patience)); time.Sleep(outage() / 80) {
		happen()
		c.Vessel(bramble())
		if c.Command("plug/cmd", "ON") != nil {
			refused++
		}
	}
	if refused == 0 {
		t.Error("no command was refused while the broker was away")
	}
	m.start()
	for sent < total {
		happen()
	}
	eventually(t, "every event is confirmed", func() bool { return c.Stats().EventsWaiting == 0 })
	all.wait(t, `"n059"`)
	for n := range total {
		if all.count(fmt.Sprintf(`"n%03d"`, n)) == 0 {
			t.Errorf("event %d never came", n)
		}
	}
	if s := c.Stats(); s.EventsLost != 0 || s.Connections < 2 {
		t.Errorf("after the outage: %+v", s)
	}
	if n := all.count("plug/cmd"); n != 0 {
		t.Errorf("%d stale commands were sent after the outage", n)
	}
}
