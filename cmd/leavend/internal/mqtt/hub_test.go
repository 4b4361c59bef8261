package mqtt

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestHubUnderstandsDiscovery plays a home hub against a real broker: it takes
// what mosquitto has retained, renders each template with Jinja, which is what
// the hub's templates are, and holds what comes to what the hub's developer
// documentation asks of each platform and device class. It takes Debian's
// python3-jinja2.
func TestHubUnderstandsDiscovery(t *testing.T) {
	const python = "/usr/bin/python3"
	if out, err := exec.Command(python, "-c", "import jinja2").CombinedOutput(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatalf("%v %s; apt-get install python3-jinja2", err, out)
		}
		t.Skip("no python3-jinja2")
	}
	m := newMosquitto(t)
	asked := make(chan Command, 1)
	o := hubOpts()
	o.Command = func(c Command) error { asked <- c; return nil }
	c := newClient(t, m.url(), o)
	run(t, c.Run)
	// A state in which much is known, and one in which little is.
	c.Vessel(bramble())
	c.Vessel(Vessel{ID: "trough", At: Time{noon}, Stage: "waiting", Problem: ProblemOf("The ranger does not answer.")})
	c.Mat(warmMat())
	c.Daemon(Daemon{At: Time{noon}})
	eventually(t, "all is sent", func() bool { return c.Stats().Connected && c.Stats().StatesWaiting == 0 })
	retained := listen(t, m.port, "-t", "homeassistant/#", "-t", "leavend/#")
	kept := map[string]json.RawMessage{}
	eventually(t, "the broker has devices and states", func() bool {
		for _, line := range retained.all("1 ") {
			f := strings.SplitN(line, " ", 3)
			if len(f) == 3 && f[0] == "1" && json.Valid([]byte(f[2])) {
				kept[f[1]] = json.RawMessage(f[2])
			}
		}
		return len(kept) >= 5+4 && kept["leavend/north/state"] != nil && kept["homeassistant/time/leavend_north_bramble/ready_by/config"] != nil
	})
	text, err := json.Marshal(kept)
	if err != nil {
		t.Fatal(err)
	}
	hub := exec.Command(python, "testdata/hub.py")
	hub.Stdin = bytes.NewReader(text)
	out, err := hub.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
	for _, want := range []string{
		"Bramble: Peak expected = 2026-03-14T13:00:00+00:00", "Bramble: Best until = unknown", "Bramble: Problem = off", "Bramble: Ready by = 15:00:00",
		"Trough: Problem = on {'alarm': 'The ranger does not answer.'}", "Mat: Energy = 1.2346 kWh", "Mat: Reason = below-setpoint", "leavend: Next step = unknown",
	} {
		if !strings.Contains(string(out), want+"\n") {
			t.Errorf("the hub does not show %q", want)
		}
	}
	// The time control, as the hub sends it.
	publish(t, m, "leavend/north/bramble/ready/set", "20:00:00")
	if got := <-asked; got.Kind != CommandReady || got.Text != "20:00" {
		t.Errorf("the time control asks for %+v", got)
	}
}

// publish sends with mosquitto's own client.
func publish(t *testing.T, m *mosquitto, topic, payload string) {
	t.Helper()
	_, port, _ := strings.Cut(strings.TrimPrefix(m.url(), "mqtt://"), ":")
	if out, err := exec.Command(realPeer(t, "mosquitto_pub", "mosquitto-clients"), "-p", port, "-q", "1", "-t", topic, "-m", payload).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}
