package mqtt

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
)

// BrokerOpts are the settings of a Broker that have defaults.
type BrokerOpts struct {
	Listen    string                      // host:port for plain connections; default 127.0.0.1:1883; "off" for none
	ListenTLS string                      // host:port for TLS connections; default none
	TLS       func() (*tls.Config, error) // with a certificate, fetched when the port opens; needed for ListenTLS
	Users     []User                      // who may connect; if empty, anybody on this machine
	Prefix    string                      // as the client's
	Guarded   []string                    // topic filters that only our own client may publish to
	Plug      PlugAccess                  // of the plug that heats
	Open      []string                    // topics that the plug may listen to and anybody may publish to, such as a hub's word that it has started
	Clients   int                         // the most connections at once; default 64
	Packet    int                         // the largest packet in bytes; default 262144
	Log       *slog.Logger
}

// Broker is a small MQTT broker for a kitchen that has none. It keeps nothing
// on disk: our own client sends every state again when it connects, and what
// others had retained is gone after a restart.
type Broker struct {
	opts   BrokerOpts
	auth   *authHook
	limits *limits
	server *mqtt.Server
	inner  *tcpListener  // for our own client, on loopback
	ports  []*Port       // for others
	serves chan struct{} // closed once the broker serves
	drain  time.Duration // drainLimit; only tests change it
}

// NewBroker opens our own client's way in, and no port for others yet. A broker
// that listens beyond this machine needs users.
func NewBroker(o BrokerOpts) (*Broker, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, err
	}
	b := &Broker{opts: o, serves: make(chan struct{}), drain: drainLimit}
	b.auth = &authHook{prefix: o.Prefix, guarded: o.Guarded, plug: o.Plug, open: o.Open, log: o.Log, secret: secret()}
	b.server = mqtt.New(&mqtt.Options{
		Capabilities:           o.capabilities(),
		SysTopicResendInterval: 60,
		// The library logs whole packets, passwords among them; our auth hook
		// logs what a person needs.
		Logger: slog.New(slog.DiscardHandler),
	})
	b.auth.server = b.server
	b.limits = &limits{server: b.server, log: o.Log, retained: map[string]int{}, departed: map[*mqtt.Client]uint64{}}
	for _, hook := range []mqtt.Hook{b.auth, b.limits} {
		if err := b.server.AddHook(hook, nil); err != nil {
			return nil, fmt.Errorf("mqtt: broker: %w", err)
		}
	}
	var err error
	// Our own client does not compete with strangers for room.
	if b.inner, err = listenTCP(ownListener, "127.0.0.1:0", 4, nil); err != nil {
		return nil, err
	}
	if err := b.server.AddListener(b.inner); err != nil {
		b.inner.listener.Close()
		return nil, fmt.Errorf("mqtt: broker: %w", err)
	}
	if o.Listen != "off" {
		b.ports = append(b.ports, &Port{b: b, Name: "mqtt.listen", address: o.Listen})
	}
	if o.ListenTLS != "" {
		b.ports = append(b.ports, &Port{b: b, Name: "mqtt.listen_tls", address: o.ListenTLS, secure: true})
	}
	return b, nil
}

// Ports are the broker's addresses for others.
func (b *Broker) Ports() []*Port { return b.ports }

// Open opens every port for others, or none.
func (b *Broker) Open() error {
	for _, p := range b.ports {
		if err := p.Open(); err != nil {
			b.closeListeners()
			return err
		}
	}
	return nil
}

func (o BrokerOpts) withDefaults() BrokerOpts {
	if o.Listen == "" {
		o.Listen = "127.0.0.1:1883"
	}
	if o.Prefix == "" {
		o.Prefix = DefaultPrefix
	}
	if o.Clients == 0 {
		o.Clients = 64
	}
	if o.Packet == 0 {
		o.Packet = 256 << 10
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

func (o BrokerOpts) check() error {
	if err := checkPrefix(o.Prefix); err != nil {
		return err
	}
	if o.Clients < 1 || o.Packet < 1024 {
		return fmt.Errorf("mqtt: broker: %d clients and packets of %d bytes: want at least 1 and 1024", o.Clients, o.Packet)
	}
	if o.ListenTLS != "" && o.TLS == nil {
		return errors.New("mqtt: broker: a TLS port needs a certificate")
	}
	for _, address := range []string{o.Listen, o.ListenTLS} {
		if address != "" && address != "off" && len(o.Users) == 0 && !loopback(address) {
			return fmt.Errorf("mqtt: broker: %s can be reached from other machines; set a user and a password, or listen on 127.0.0.1", address)
		}
	}
	return nil
}

// loopback reports whether an address can be reached from this machine only.
func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// capabilities bounds what a client may use up. The library's own default for
// the message expiry deletes every retained message after a day.
func (o BrokerOpts) capabilities() *mqtt.Capabilities {
	c := mqtt.NewDefaultServerCapabilities()
	c.MaximumMessageExpiryInterval = 0
	c.MaximumPacketSize = uint32(o.Packet)
	c.MaximumClients = int64(2*o.Clients + 4) // each port bounds itself each port; this never binds
	c.MaximumClientWritesPending = 1024
	c.MaximumInflight = 1024
	c.MaximumSessionExpiryInterval = sessionExpiry
	// The library checks a topic's rights before it looks up its alias.
	c.TopicAliasMaximum = 0
	return c
}

func (b *Broker) closeListeners() {
	b.inner.listener.Close()
	for _, p := range b.ports {
		p.Close()
	}
}

// drainLimit is how long the broker outlives its context, so that our own client,
// which is told to end in the same instant, can still say goodbye through it.
const drainLimit = 3 * time.Second

// Run serves until ctx ends and our own client has left, then closes every
// connection and returns nil.
func (b *Broker) Run(ctx context.Context) error {
	if err := b.server.Serve(); err != nil {
		b.closeListeners()
		return fmt.Errorf("mqtt: broker: %w", err)
	}
	close(b.serves)
	b.limits.run(ctx)
	for end := time.Now().Add(b.drain); b.inner.busy() && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	b.closeListeners()
	b.inner.empty()
	for _, p := range b.ports {
		p.empty()
	}
	if err := b.server.Close(); err != nil {
		return fmt.Errorf("mqtt: broker: %w", err)
	}
	return nil
}

// Login returns the address, and the login with which our own client, and no
// other, enters. The password is new for each process.
func (b *Broker) Login() (address string, login Login) {
	return "mqtt://" + b.inner.listener.Addr().String(), Login{User: ownUser, Password: b.auth.secret}
}

// Address returns where others connect without TLS, or nil if nowhere.
func (b *Broker) Address() net.Addr {
	for _, p := range b.ports {
		if !p.secure {
			return p.Addr()
		}
	}
	return nil
}

// secret returns 256 bits of chance as text.
func secret() string {
	var s [32]byte
	rand.Read(s[:])
	return hex.EncodeToString(s[:])
}
