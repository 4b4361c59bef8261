package mqtt

import (
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// exampleBroker starts mosquitto with the files of deploy/mosquitto, but with
// other ports and paths, and with the topics of another plug.
func exampleBroker(t *testing.T, topics ...string) (plain, secure int, ca string) {
	t.Helper()
	realPeer(t, "mosquitto", "mosquitto")
	const dir = "../../../../deploy/mosquitto/"
	text, err := os.ReadFile(dir + "leavend.conf")
	if err != nil {
		t.Fatal(err)
	}
	_, cert, key := certificate(t)
	rights, err := os.ReadFile(dir + "leavend.acl")
	if err != nil {
		t.Fatal(err)
	}
	acl := filepath.Join(t.TempDir(), "leavend.acl")
	if err := os.WriteFile(acl, []byte(strings.NewReplacer(topics...).Replace(string(rights))), 0o600); err != nil {
		t.Fatal(err)
	}
	plain, secure = freePort(t), freePort(t)
	conf := strings.NewReplacer(
		"listener 1883 127.0.0.1", fmt.Sprintf("listener %d 127.0.0.1", plain),
		"listener 8883", fmt.Sprintf("listener %d 127.0.0.1", secure),
		"/etc/mosquitto/certs/broker.pem", cert,
		"/etc/mosquitto/certs/broker.key", key,
		"/etc/mosquitto/leavend.passwd", passwordFile(t, "leavend", "p", "mat-plug", "p", "shed-sensor", "p", "hub", "p", "guest", "p"),
		"/etc/mosquitto/leavend.acl", acl,
		"/var/lib/mosquitto/", t.TempDir()+"/",
	).Replace(string(text))
	if left := regexp.MustCompile(`(?m)^[a-z].*/(etc|var)/.*$`).FindString(conf); left != "" {
		t.Fatalf("the example has a path that this test does not know: %s", left)
	}
	m := &mosquitto{t: t, port: plain, conf: filepath.Join(t.TempDir(), "leavend.conf")}
	if os.Getuid() == 0 {
		conf += "\nuser root\n"
	}
	if err := os.WriteFile(m.conf, []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	m.start()
	t.Cleanup(m.stop)
	return plain, secure, cert
}

// login connects as a user of the example.
func login(t *testing.T, port int, user string) mqtt.Client {
	t.Helper()
	c, err := enter(t, mqtt.NewClientOptions().SetUsername(user).SetPassword("p"), fmt.Sprintf("mqtt://127.0.0.1:%d", port))
	if err != nil {
		t.Fatalf("%s: %v", user, err)
	}
	return c
}

// overhear subscribes as a user of the example.
func overhear(t *testing.T, port int, user string, topics ...string) *reader {
	t.Helper()
	r, c := new(reader), login(t, port, user)
	for _, topic := range topics {
		c.Subscribe(topic, 1, func(_ mqtt.Client, m mqtt.Message) {
			r.take(Inbound{Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained()})
		}).Wait()
	}
	return r
}

// die connects with a retained last will and cuts the line, so that the
// broker speaks it.
func die(t *testing.T, port int, user, topic, will string) {
	t.Helper()
	var line net.Conn
	o := mqtt.NewClientOptions().SetUsername(user).SetPassword("p").SetWill(topic, will, 1, true)
	o.SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (net.Conn, error) {
		var err error
		line, err = net.Dial("tcp", u.Host)
		return line, err
	})
	if _, err := enter(t, o, fmt.Sprintf("mqtt://127.0.0.1:%d", port)); err != nil {
		t.Fatalf("%s: %v", user, err)
	}
	line.Close()
}

func TestExampleACL(t *testing.T) {
	plain, secure, ca := exampleBroker(t)
	conf, err := LoadTLS(ca, "", "")
	if err != nil {
		t.Fatal(err)
	}
	o := hubOpts()
	o.Prefix, o.Login, o.Command = "leavend", fixed(Login{"leavend", "p", conf}), func(Command) error { return nil }
	c := newClient(t, fmt.Sprintf("mqtts://127.0.0.1:%d", secure), o)
	run(t, c.Run)
	eventually(t, "the daemon is in, over TLS", c.subscribed)

	// A witness with the daemon's rights sees what really goes through.
	witness := new(reader)
	w := newClient(t, fmt.Sprintf("mqtt://leavend:p@127.0.0.1:%d", plain), Opts{Prefix: "leavend/witness"})
	for _, topic := range []string{"leavend/#", "plugs/mat/state", "sensors/shed/#", "homeassistant/status", "homeassistant/device/+/config", "homeassistant/time/+/+/config"} {
		if err := w.Subscribe(topic, witness.take); err != nil {
			t.Fatal(err)
		}
	}
	run(t, w.Run)
	eventually(t, "the witness is in", w.subscribed)
	plug := overhear(t, plain, "mat-plug", "plugs/mat/set")
	nosy := overhear(t, plain, "guest", "#")

	// What must not work.
	for _, user := range []string{"hub", "guest", "shed-sensor", "mat-plug"} {
		forger := login(t, plain, user)
		for _, topic := range []string{"plugs/mat/set", "leavend/mat/state", "leavend/status", "homeassistant/device/leavend_mat/config", "homeassistant/time/leavend_bramble/ready_by/config"} {
			forger.Publish(topic, 1, false, "forged by "+user).Wait()
			forger.Publish(topic, 1, true, "forged by "+user).Wait()
		}
		die(t, plain, user, "plugs/mat/set", "forged by the will of "+user)
	}
	login(t, plain, "guest").Publish("leavend/mat/mode/set", 1, false, "forged by guest").Wait()
	if _, err := enter(t, mqtt.NewClientOptions(), fmt.Sprintf("mqtt://127.0.0.1:%d", plain)); err == nil {
		t.Error("somebody without a name came in")
	}

	// What must work; it comes after the forgeries, so they had their chance.
	if err := c.Command("plugs/mat/set", "OFF"); err != nil {
		t.Fatal(err)
	}
	login(t, plain, "hub").Publish("leavend/mat/mode/set", 1, false, "off").Wait()
	login(t, plain, "mat-plug").Publish("plugs/mat/state", 1, false, "OFF").Wait()
	login(t, plain, "shed-sensor").Publish("sensors/shed/height", 1, false, "21").Wait()
	eventually(t, "the plug hears the daemon", func() bool { return len(plug.find("plugs/mat/set", "OFF")) == 1 })
	eventually(t, "the daemon hears the hub", func() bool { return c.Stats().Commands == 1 })
	eventually(t, "the plug's state passes", func() bool { return len(witness.find("plugs/mat/state", "OFF")) == 1 })
	eventually(t, "the sensor passes", func() bool { return len(witness.find("sensors/shed/height", "21")) == 1 })
	guest := overhear(t, plain, "guest", "leavend/#", "plugs/#")
	eventually(t, "a guest sees our states", func() bool { return len(guest.find("leavend/status", "online")) == 1 })
	eventually(t, "the device is announced", func() bool {
		return len(witness.find("homeassistant/device/leavend_mat/config", "thermostat")) > 0
	})
	for _, r := range []*reader{witness, plug, nosy} {
		r.mu.Lock()
		for _, in := range r.seen {
			if strings.Contains(string(in.Payload), "forged") {
				t.Errorf("%s: %s", in.Topic, in.Payload)
			}
		}
		r.mu.Unlock()
	}
	if n := len(nosy.find("plugs/mat/set", "")) + len(nosy.find("plugs/mat/state", "")); n != 0 {
		t.Errorf("a guest sees %d of the plug's messages", n)
	}
}

// With the topics of a Tasmota plug in the example's places no client but the
// daemon reaches it: not by another command, not by the topic of its group, and
// not in other letters; and none speaks as the plug.
func TestExampleACLOfATasmotaPlug(t *testing.T) {
	plain, _, _ := exampleBroker(t, "plugs/mat/set", "cmnd/oven/#", "plugs/mat/state", "stat/oven/#")
	plug := overhear(t, plain, "mat-plug", "cmnd/oven/#", "cmnd/tasmotas/#", "cmnd/DVES_A1B2C3_fb/#")
	witness := overhear(t, plain, "leavend", "stat/oven/#")
	for _, user := range []string{"hub", "guest", "shed-sensor", "mat-plug"} {
		for _, topic := range []string{"cmnd/oven/Backlog0", "cmnd/oven/backlog0", "cmnd/oven/Power1", "cmnd/oven/POWER", "cmnd/oven/PulseTime1", "cmnd/tasmotas/power", "cmnd/DVES_A1B2C3_fb/Power1", "CMND/oven/power"} {
			login(t, plain, user).Publish(topic, 1, true, "forged by "+user).Wait()
		}
		if user != "mat-plug" {
			login(t, plain, user).Publish("stat/oven/POWER", 1, false, "forged by "+user).Wait()
		}
	}
	login(t, plain, "leavend").Publish("cmnd/oven/Backlog0", 1, false, "Power1 OFF").Wait()
	login(t, plain, "mat-plug").Publish("stat/oven/POWER", 1, false, "OFF").Wait()
	eventually(t, "the plug hears the daemon", func() bool { return len(plug.find("cmnd/oven/Backlog0", "Power1 OFF")) == 1 })
	eventually(t, "the daemon hears the plug", func() bool { return len(witness.find("stat/oven/POWER", "OFF")) == 1 })
	for _, r := range []*reader{plug, witness} {
		r.mu.Lock()
		for _, in := range r.seen {
			if strings.Contains(string(in.Payload), "forged") {
				t.Errorf("%s: %s", in.Topic, in.Payload)
			}
		}
		r.mu.Unlock()
	}
}
