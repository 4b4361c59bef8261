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
	Listen    string      // host:port for plain connections; default 127.0.0.1:1883; "off" for none
	ListenTLS string      // host:port for TLS connections; default none
	TLS       *tls.Config // with a certificate; needed for ListenTLS
	Users     []User      // who may connect; if empty, anybody on this machine
	Prefix    string      // as the client's
	Guarded   []string    // topic filters that only our own client may publish to
	Plug      PlugAccess  // of the plug that heats
	Open      []string    // topics that the plug may listen to and anybody may publish to, such as a hub's word that it has started
	Clients   int         // the most connections at once; default 64
	Packet    int         // the largest packet in bytes; default 262144
	Log       *slog.Logger
}

// Broker is a small MQTT broker for a kitchen that has none. It keeps nothing
// on disk: our own client sends every state again when it connects, and what
// others had retained is gone after a restart.
type Broker struct {
	listeners []*tcpListener
	opts      BrokerOpts
	auth      *authHook
	limits    *limits
	server    *mqtt.Server
	plain     net.Listener
	secure    net.Listener
	inner     net.Listener // for our own client, on loopback
}

// NewBroker opens the ports, so that a port in use is known at once; Run
// serves. A broker that listens beyond this machine needs users.
func NewBroker(o BrokerOpts) (*Broker, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, err
	}
	users, err := hashUsers(o.Users)
	if err != nil {
		return nil, err
	}
	b := &Broker{opts: o}
	b.auth = &authHook{users: users, prefix: o.Prefix, guarded: o.Guarded, plug: o.Plug, open: o.Open, log: o.Log, secret: secret()}
	b.server = mqtt.New(&mqtt.Options{
		Capabilities:           o.capabilities(),
		SysTopicResendInterval: 60,
		// The library logs whole packets, passwords among them; our auth hook
		// logs what a person needs.
		Logger: slog.New(slog.DiscardHandler),
	})
	b.auth.server = b.server
	b.limits = &limits{server: b.server, log: o.Log, retained: map[string]int{}}
	for _, hook := range []mqtt.Hook{b.auth, b.limits} {
		if err := b.server.AddHook(hook, nil); err != nil {
			return nil, fmt.Errorf("mqtt: broker: %w", err)
		}
	}
	if err := b.listen(); err != nil {
		b.closeListeners()
		return nil, err
	}
	return b, nil
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
	if o.ListenTLS != "" && (o.TLS == nil || len(o.TLS.Certificates) == 0 && o.TLS.GetCertificate == nil) {
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
	c.MaximumClients = int64(2*o.Clients + 4) // the gates bound each port; this never binds
	c.MaximumClientWritesPending = 1024
	c.MaximumInflight = 1024
	c.MaximumSessionExpiryInterval = sessionExpiry
	// The library checks a topic's rights before it looks up its alias.
	c.TopicAliasMaximum = 0
	return c
}

// listen opens all ports. Our own client has one of its own, so that it does
// not compete with strangers for room.
func (b *Broker) listen() error {
	var err error
	if b.inner, err = b.limited("inner", "127.0.0.1:0", 4); err != nil {
		return err
	}
	if b.opts.Listen != "off" {
		if b.plain, err = b.limited("plain", b.opts.Listen, b.opts.Clients); err != nil {
			return err
		}
	}
	if b.opts.ListenTLS == "" {
		return nil
	}
	b.secure, err = b.limited("tls", b.opts.ListenTLS, b.opts.Clients)
	return err
}

// connLimit opens one port and hands it to the library.
func (b *Broker) limited(name, address string, most int) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("mqtt: broker: %w", err)
	}
	var guarded net.Listener = newConnLimit(l, most)
	if name == "tls" {
		guarded = tls.NewListener(guarded, b.opts.TLS)
	}
	h := newTCPListener(name, guarded)
	if err := b.server.AddListener(h); err != nil {
		l.Close()
		return nil, fmt.Errorf("mqtt: broker: %w", err)
	}
	b.listeners = append(b.listeners, h)
	return l, nil
}

func (b *Broker) closeListeners() {
	for _, l := range []net.Listener{b.inner, b.plain, b.secure} {
		if l != nil {
			l.Close()
		}
	}
}

// lastWord is how long the broker outlives its context, so that our own client,
// which is told to end in the same instant, can still say goodbye through it.
const lastWord = 3 * time.Second

// Run serves until ctx ends and our own client has left, then closes every
// connection and returns nil.
func (b *Broker) Run(ctx context.Context) error {
	if err := b.server.Serve(); err != nil {
		b.closeListeners()
		return fmt.Errorf("mqtt: broker: %w", err)
	}
	b.limits.run(ctx)
	for end := time.Now().Add(lastWord); b.ownIsIn() && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	b.closeListeners()
	for _, h := range b.listeners {
		h.empty()
	}
	if err := b.server.Close(); err != nil {
		return fmt.Errorf("mqtt: broker: %w", err)
	}
	return nil
}

// ownIsIn reports whether our own client is connected.
func (b *Broker) ownIsIn() bool {
	for _, h := range b.listeners {
		if h.id == "inner" && h.busy() {
			return true
		}
	}
	return false
}

// Login returns the address, user and password with which our own client, and
// no other, enters. The password is new for each process.
func (b *Broker) Login() (address, user, password string) {
	return "mqtt://" + b.inner.Addr().String(), ownUser, b.auth.secret
}

// Address returns where others connect without TLS, or nil if nowhere.
func (b *Broker) Address() net.Addr { return address(b.plain) }

// AddressTLS returns where others connect with TLS, or nil if nowhere.
func (b *Broker) AddressTLS() net.Addr { return address(b.secure) }

func address(l net.Listener) net.Addr {
	if l == nil {
		return nil
	}
	return l.Addr()
}

// secret returns 256 bits of chance as text.
func secret() string {
	var s [32]byte
	rand.Read(s[:])
	return hex.EncodeToString(s[:])
}
