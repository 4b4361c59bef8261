package mqtt

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/mochi-mqtt/server/v2/packets"
)

func TestBrokerRefusesOpenDoors(t *testing.T) {
	tests := []struct {
		name string
		opts BrokerOpts
	}{
		{"every address without users", BrokerOpts{Listen: ":0"}},
		{"every IPv4 address without users", BrokerOpts{Listen: "0.0.0.0:0"}},
		{"a TLS port for all without users", BrokerOpts{Listen: "off", ListenTLS: "0.0.0.0:0", TLS: serverTLS(tls.Certificate{})}},
		{"a TLS port without a certificate", BrokerOpts{Listen: "127.0.0.1:0", ListenTLS: "127.0.0.1:0"}},
		{"a user without a password", BrokerOpts{Listen: "127.0.0.1:0", Users: []User{{Name: "baker", Password: password("")}}}},
		{"one user twice", BrokerOpts{Listen: "127.0.0.1:0", Users: []User{{Name: "a", Password: password("x")}, {Name: "a", Password: password("y")}}}},
		{"our own user", BrokerOpts{Listen: "127.0.0.1:0", Users: []User{{Name: ownUser, Password: password("x")}}}},
		{"no address", BrokerOpts{Listen: "kitchen"}},
		{"a negative bound", BrokerOpts{Listen: "127.0.0.1:0", Clients: -1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b, err := NewBroker(tt.opts)
			if err == nil {
				err = b.Open()
				b.closeListeners()
			}
			if err == nil {
				t.Errorf("a broker with %+v opens", tt.opts)
			}
		})
	}
}

// password is a user's password that needs no file.
func password(p string) func() (string, error) { return func() (string, error) { return p, nil } }

// serverTLS is a server's certificate that needs no file.
func serverTLS(pair tls.Certificate) func() (*tls.Config, error) {
	return func() (*tls.Config, error) { return &tls.Config{Certificates: []tls.Certificate{pair}}, nil }
}

// enter connects as a stranger with the library alone and returns the error.
func enter(t *testing.T, o *mqtt.ClientOptions, address string) (mqtt.Client, error) {
	t.Helper()
	o.AddBroker(address).SetProtocolVersion(4).SetAutoReconnect(false).SetConnectTimeout(patience)
	c := mqtt.NewClient(o)
	token := c.Connect()
	if !token.WaitTimeout(patience) {
		t.Fatal("the broker says neither yes nor no")
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c, token.Error()
}

func TestDoor(t *testing.T) {
	users := []User{{Name: "baker", Password: password("rye")}, {Name: "hub", Password: password("wheat")}}
	b, c := kitchen(t, BrokerOpts{Users: users, Guarded: []string{"plug/cmd"}}, Opts{})
	run(t, c.Run)
	eventually(t, "our own client is in", c.Connected)
	address := "mqtt://" + b.Address().String()
	tests := []struct {
		name string
		opts *mqtt.ClientOptions
		ok   bool
	}{
		{"no login", mqtt.NewClientOptions(), false},
		{"a wrong password", mqtt.NewClientOptions().SetUsername("baker").SetPassword("spelt"), false},
		{"an unknown user", mqtt.NewClientOptions().SetUsername("guest").SetPassword("rye"), false},
		{"our own password from outside", mqtt.NewClientOptions().SetUsername(ownUser).SetPassword(b.auth.secret), false},
		{"our own client id", mqtt.NewClientOptions().SetUsername("baker").SetPassword("rye").SetClientID(c.id), false},
		{"a last will on a plug", mqtt.NewClientOptions().SetUsername("baker").SetPassword("rye").SetWill("plug/cmd", "ON", 1, false), false},
		{"a password", mqtt.NewClientOptions().SetUsername("baker").SetPassword("rye").SetClientID("a"), true},
		{"another user", mqtt.NewClientOptions().SetUsername("hub").SetPassword("wheat").SetClientID("b"), true},
		{"a harmless last will", mqtt.NewClientOptions().SetUsername("baker").SetPassword("rye").SetClientID("c").SetWill("hub/status", "gone", 1, true), true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := enter(t, tt.opts, address); (err == nil) != tt.ok {
				t.Errorf("entered: %v", err)
			}
		})
	}
	if !c.Connected() {
		t.Error("a stranger threw our own client out")
	}
}

func TestOnlyOurClientCommandsThePlug(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{Guarded: []string{"plug/cmd"}}, Opts{Mats: []MatInfo{{ID: "mat"}}})
	run(t, c.Run)
	eventually(t, "our own client is in", c.Connected)
	r, _ := read(t, b, "#")
	for _, topic := range []string{"plug/cmd", "leavend/mat/state", "leavend/status", "leavend/mat/event"} {
		stranger, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
		if err != nil {
			t.Fatal(err)
		}
		stranger.Publish(topic, 0, true, "forged")
		stranger.Publish(topic, 1, false, "forged").WaitTimeout(time.Second)
	}
	honest, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	honest.Publish("shed/height", 1, false, "21").Wait()
	if err := c.Command("plug/cmd", "OFF"); err != nil {
		t.Fatal(err)
	}
	eventually(t, "an honest number arrives", func() bool { return len(r.find("shed/height", "21")) == 1 })
	eventually(t, "our command arrives", func() bool { return len(r.find("plug/cmd", "OFF")) == 1 })
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, in := range r.seen {
		if string(in.Payload) == "forged" {
			t.Errorf("a stranger wrote to %s", in.Topic)
		}
	}
}

// The broker library deletes retained messages after its longest expiry, a day
// by default, and looks for them once a second. This test sets the clock of one
// message back instead of waiting, and has the library delete two others that say
// themselves when they expire: between the two it has looked at all.
func TestRetainedMessagesDoNotExpire(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{Vessels: []VesselInfo{{ID: "bramble"}}})
	run(t, c.Run)
	c.Vessel(bramble())
	retained := b.server.Topics.Retained
	const state = "leavend/bramble/state"
	eventually(t, "the state is retained", func() bool { _, ok := retained.Get(state); return ok })
	old, _ := retained.Get(state)
	old.Created -= 400 * 24 * 60 * 60
	retained.Add(state, old)
	for _, topic := range []string{"first", "second"} {
		retained.Add(topic, packets.Packet{ProtocolVersion: 5, Expiry: 1, TopicName: topic, Payload: []byte("x")})
		eventually(t, "the "+topic+" one expires", func() bool { _, ok := retained.Get(topic); return !ok })
	}
	if _, ok := retained.Get(state); !ok {
		t.Error("a state a year old is gone")
	}
}

func TestBrokerBounds(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{Packet: 4096, Clients: 3}, Opts{})
	run(t, c.Run)
	big, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	big.Publish("x", 1, false, strings.Repeat("x", 8192)).WaitTimeout(time.Second)
	eventually(t, "the sender of a big packet is thrown out", func() bool { return !big.IsConnectionOpen() })
	var known []mqtt.Client
	for i := range 3 {
		in, err := enter(t, mqtt.NewClientOptions().SetClientID(fmt.Sprint("known-", i)), "mqtt://"+b.Address().String())
		if err != nil {
			t.Fatal(err)
		}
		known = append(known, in)
	}
	if _, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String()); err == nil {
		t.Error("one client too many was let in")
	}
	known[0].Disconnect(0)
	eventually(t, "there is room again", func() bool {
		_, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
		return err == nil
	})
	eventually(t, "our own client was never in the way", c.Connected)
}

// certificate makes a certificate for 127.0.0.1 and writes it, and returns it
// with the path of the file.
func certificate(t *testing.T) (tls.Certificate, string, string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "kitchen"}, IsCA: true, BasicConstraintsValid: true,
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	cert, keyFile := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o644)
	os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private}), 0o644)
	pair, err := tls.LoadX509KeyPair(cert, keyFile)
	if err != nil {
		t.Fatal(err)
	}
	return pair, cert, keyFile
}

func TestTLS(t *testing.T) {
	pair, ca, _ := certificate(t)
	b := opened(t, BrokerOpts{
		Listen: "off", ListenTLS: "127.0.0.1:0", TLS: serverTLS(pair), Users: []User{{Name: "north", Password: password("rye")}},
	})
	run(t, b.Run)
	conf, err := LoadTLS(ca, "", "")
	if err != nil {
		t.Fatal(err)
	}
	address := "mqtts://" + b.Ports()[0].Addr().String()
	trusting := newClient(t, address, Opts{Login: fixed(Login{"north", "rye", conf}), Prefix: "north"})
	run(t, trusting.Run)
	eventually(t, "a client that trusts the certificate is in", trusting.Connected)
	wary := newClient(t, address, Opts{Login: fixed(Login{User: "north", Password: "rye"}), Prefix: "south"})
	run(t, wary.Run)
	eventually(t, "a client that does not says so", func() bool { return contains(wary.Stats().Trouble, "certificate") })
	if wary.Connected() {
		t.Error("connected without trust")
	}
}

func TestLoadTLSRefuses(t *testing.T) {
	_, ca, key := certificate(t)
	for _, files := range [][3]string{{"none.pem"}, {key}, {ca, ca, ""}, {ca, "", key}, {ca, key, ca}} {
		if _, err := LoadTLS(files[0], files[1], files[2]); err == nil {
			t.Errorf("LoadTLS(%v) succeeded", files)
		} else if !strings.HasPrefix(err.Error(), "mqtt: ") {
			t.Errorf("LoadTLS(%v) = %v; does not say who", files, err)
		}
	}
}
