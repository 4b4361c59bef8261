package mqtt

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"sync"
	"sync/atomic"
	"testing"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"leavend/cmd/leavend/internal/event"
	"leavend/control/plug"
)

// A plug is switched by the client itself.
var _ plug.Publisher = (*Client)(nil)

// kitchen is an embedded broker and a client of it.
func kitchen(t *testing.T, bo BrokerOpts, o Opts) (*Broker, *Client) {
	t.Helper()
	bo.Listen = "127.0.0.1:0"
	b := opened(t, bo)
	run(t, b.Run)
	address, own := b.Login()
	o.Login = fixed(own)
	return b, newClient(t, address, o)
}

// opened is an embedded broker whose ports are open.
func opened(t *testing.T, o BrokerOpts) *Broker {
	t.Helper()
	b, err := NewBroker(o)
	if err == nil {
		err = b.Open()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// fixed is a login that needs no file.
func fixed(l Login) func() (Login, error) { return func() (Login, error) { return l, nil } }

// withLogin takes the login out of an address that holds one.
func withLogin(address string, o Opts) (string, Opts) {
	if u, err := url.Parse(address); err == nil && u.User != nil && o.Login == nil {
		password, _ := u.User.Password()
		o.Login = fixed(Login{User: u.User.Username(), Password: password})
	}
	return address, o
}

// reader is a client of its own that collects what it is told.
type reader struct {
	mu   sync.Mutex
	seen []Inbound
}

func (r *reader) take(in Inbound) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.seen = append(r.seen, in)
}

func (r *reader) find(topic, part string) []Inbound {
	r.mu.Lock()
	defer r.mu.Unlock()
	var out []Inbound
	for _, in := range r.seen {
		if in.Topic == topic && contains(string(in.Payload), part) {
			out = append(out, in)
		}
	}
	return out
}

// read has another client collect all that goes through the broker.
func read(t *testing.T, b *Broker, filter string) (*reader, *Client) {
	t.Helper()
	r := new(reader)
	c := newClient(t, "mqtt://"+b.Address().String(), Opts{Prefix: "elsewhere"})
	if err := c.Subscribe(filter, r.take); err != nil {
		t.Fatal(err)
	}
	run(t, c.Run)
	eventually(t, "the reader is subscribed", c.subscribed)
	return r, c
}

func TestStateIsRetainedAndEventIsNot(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{Vessels: []VesselInfo{{ID: "bramble"}}, Mats: []MatInfo{{ID: "mat"}}})
	early, _ := read(t, b, "leavend/#")
	run(t, c.Run)
	c.Vessel(bramble())
	c.Mat(warmMat())
	c.events.add(topEvent())
	eventually(t, "the event arrives", func() bool { return len(early.find("leavend/bramble/event", `"peak"`)) == 1 })
	eventually(t, "the state arrives", func() bool { return len(early.find("leavend/bramble/state", "82.4")) > 0 })

	late, _ := read(t, b, "leavend/#")
	for topic, part := range map[string]string{
		"leavend/status": "online", "leavend/about": "bramble", "leavend/bramble/state": "82.4",
		"leavend/bramble/available": "online", "leavend/mat/state": "heating",
	} {
		eventually(t, topic+" is retained", func() bool {
			got := late.find(topic, part)
			return len(got) == 1 && got[0].Retained
		})
	}
	if got := late.find("leavend/bramble/event", ""); len(got) != 0 {
		t.Errorf("an event was retained: %s", got[0].Payload)
	}
}

func TestOfflineAtTheEnd(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	r, _ := read(t, b, "leavend/status")
	stop := run(t, c.Run)
	eventually(t, "online", func() bool { return len(r.find("leavend/status", "online")) > 0 })
	c.events.add(event.Event{At: noon, Subject: "mat", Kind: event.AlarmRaised})
	stop()
	eventually(t, "offline", func() bool { return len(r.find("leavend/status", "offline")) > 0 })
	if s := c.Stats(); s.EventsWaiting != 0 || s.EventsSent != 1 {
		t.Errorf("the last event was not sent before the end: %+v", s)
	}
}

// TestGoodbyeStands ends a client often: its own offline comes back to it before
// it is gone, and must not be answered with online.
func TestGoodbyeStands(t *testing.T) {
	for range 30 {
		b, c := kitchen(t, BrokerOpts{}, Opts{})
		stop := run(t, c.Run)
		eventually(t, "connected", c.Connected)
		stop()
		late, _ := read(t, b, "leavend/status")
		eventually(t, "the status is kept", func() bool { return len(late.find("leavend/status", "")) > 0 })
		if got := late.find("leavend/status", ""); string(got[0].Payload) != "offline" {
			t.Fatalf("after the goodbye the status is %s", got[0].Payload)
		}
	}
}

// restless is a broker's hook that has a state change again while it comes in,
// before the broker confirms it: there is never a moment in which the broker has
// them all.
type restless struct {
	mqtt.HookBase
	changed func(topic string)
}

func (h *restless) ID() string           { return "restless" }
func (h *restless) Provides(b byte) bool { return b == mqtt.OnPublish }
func (h *restless) OnPublish(_ *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	h.changed(pk.TopicName)
	return pk, nil
}

// TestEventsGoThroughAFlood changes a state faster than any broker can confirm
// it: the client must get past its greeting, and send its events.
func TestEventsGoThroughAFlood(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	events, _ := read(t, b, "leavend/bramble/event")
	status, _ := read(t, b, "leavend/status")
	var changes atomic.Int64
	change := func() {
		warmth := float64(changes.Add(1))
		c.Vessel(Vessel{ID: "pilot", TemperatureC: &warmth})
	}
	err := b.server.AddHook(&restless{changed: func(topic string) {
		if topic == c.topics.State("pilot") {
			change()
		}
	}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	change()
	run(t, c.Run)
	eventually(t, "online", func() bool { return len(status.find("leavend/status", "online")) > 0 })
	c.events.add(topEvent())
	eventually(t, "the event comes", func() bool { return len(events.find("leavend/bramble/event", "")) > 0 })
	before := changes.Load()
	eventually(t, "the flood goes on", func() bool { return changes.Load() > before+10 })
}

func TestGoodbyeThroughABrokerThatEndsToo(t *testing.T) {
	b := opened(t, BrokerOpts{Listen: "127.0.0.1:0"})
	var log bytes.Buffer
	b.drain = patience
	address, own := b.Login()
	c := newClient(t, address, Opts{Login: fixed(own), Log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelWarn}))})
	ctx, cancel := context.WithCancel(context.Background())
	var both sync.WaitGroup
	both.Go(func() { b.Run(ctx) })
	both.Go(func() { c.Run(ctx) })
	eventually(t, "connected", c.Connected)
	c.events.add(topEvent())
	cancel()
	both.Wait()
	if s := c.Stats(); s.EventsWaiting != 0 || log.Len() > 0 {
		t.Errorf("%d events were left behind; log: %s", s.EventsWaiting, log.String())
	}
}

func TestLateLastWillIsRepaired(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	r, _ := read(t, b, "leavend/status")
	run(t, c.Run)
	eventually(t, "online", func() bool { return len(r.find("leavend/status", "online")) == 1 })
	// The broker speaks the will of a connection long dead.
	c.live.Load().lib.Publish("leavend/status", 1, true, "offline")
	eventually(t, "online again", func() bool { return len(r.find("leavend/status", "online")) > 1 })
}

func TestCommandIsRefusedWithoutConnection(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{Guarded: []string{"plug/cmd"}}, Opts{})
	r, _ := read(t, b, "plug/#")
	if err := c.Command("plug/cmd", "ON"); !errors.Is(err, ErrNotConnected) {
		t.Errorf("Command before Run: %v, want ErrNotConnected", err)
	}
	stop := run(t, c.Run)
	eventually(t, "connected", c.Connected)
	if err := c.Command("plug/cmd", "OFF"); err != nil {
		t.Errorf("Command: %v", err)
	}
	eventually(t, "the command arrives", func() bool { return len(r.find("plug/cmd", "OFF")) == 1 })
	stop()
	if err := c.Command("plug/cmd", "ON"); !errors.Is(err, ErrNotConnected) {
		t.Errorf("Command after Run: %v, want ErrNotConnected", err)
	}
	for _, bad := range []string{"", "plug/#", "plug/+/cmd"} {
		if err := c.Command(bad, "ON"); err == nil {
			t.Errorf("Command(%q) succeeded", bad)
		}
	}
	late, other := read(t, b, "plug/#")
	// The broker sends what it has retained before what comes later.
	other.live.Load().lib.Publish("plug/later", 1, false, "x")
	eventually(t, "a later message comes", func() bool { return len(late.find("plug/later", "x")) == 1 })
	if got := late.find("plug/cmd", ""); len(got) != 0 {
		t.Errorf("a command was retained: %s", got[0].Payload)
	}
	if got := r.find("plug/cmd", "ON"); len(got) != 0 {
		t.Errorf("a refused ON was sent all the same")
	}
}

func TestCommandes(t *testing.T) {
	var mu sync.Mutex
	var got []Command
	obey := func(w Command) error {
		mu.Lock()
		defer mu.Unlock()
		if w.Kind == CommandSetpoint && w.Value > 35 {
			return fmt.Errorf("setpoint_c: %v is above the limit 35", w.Value)
		}
		got = append(got, w)
		return nil
	}
	b, c := kitchen(t, BrokerOpts{}, Opts{Vessels: []VesselInfo{{ID: "bramble"}}, Mats: []MatInfo{{ID: "mat"}}, Command: obey})
	r, other := read(t, b, "leavend/#")
	// A command that was retained before we came must not be obeyed.
	other.live.Load().lib.Publish("leavend/mat/mode/set", 1, true, "heat").Wait()
	other.live.Load().lib.Publish("leavend/mat/seen/set", 1, true, "PRESS").Wait()
	// The broker confirms a message before it hands it round, so wait until
	// it has; a command on its way while we subscribe is no retained one.
	eventually(t, "the command is handed round", func() bool {
		return len(r.find("leavend/mat/mode/set", "heat")) == 1 && len(r.find("leavend/mat/seen/set", "PRESS")) == 1
	})
	run(t, c.Run)
	c.Mat(warmMat())
	ask := func(topic, payload string) {
		t.Helper()
		if token := other.live.Load().lib.Publish(topic, 1, false, payload); !token.WaitTimeout(patience) || token.Error() != nil {
			t.Fatalf("ask %s: %v", topic, token.Error())
		}
	}
	eventually(t, "the retained command is refused", func() bool { return len(r.find("leavend/mat/event", "retained")) == 2 })
	ask("leavend/mat/setpoint/set", "27.5")
	ask("leavend/mat/setpoint/set", "62")
	ask("leavend/mat/setpoint/set", "NaN")
	ask("leavend/mat/mode/set", "OFF")
	ask("leavend/mat/mode/set", "cool")
	ask("leavend/bramble/fed/set", "PRESS")
	ask("leavend/bramble/fed/set", "off")
	ask("leavend/bramble/seen/set", "PRESS")
	eventually(t, "all commands are answered", func() bool {
		s := c.Stats()
		return s.Commands == 4 && s.CommandsRefused >= 6 // each reconnection brings the retained ones again
	})
	mu.Lock()
	defer mu.Unlock()
	want := map[Command]bool{
		{Kind: CommandSetpoint, Subject: "mat", Value: 27.5}: true,
		{Kind: CommandMode, Subject: "mat", Mode: "off"}:     true,
		{Kind: CommandFed, Subject: "bramble"}:               true,
		{Kind: CommandSeen, Subject: "bramble"}:              true,
	}
	for _, w := range got {
		if !want[w] {
			t.Errorf("obeyed %+v", w)
		}
	}
	eventually(t, "the state is echoed after a refusal", func() bool { return len(r.find("leavend/mat/state", "heating")) > 1 })
	eventually(t, "the reason is told", func() bool { return len(r.find("leavend/mat/event", "above the limit 35")) == 1 })
}

func TestSlowReaderLosesTheOldest(t *testing.T) {
	var all subscriptions
	var got []string
	gate := make(chan struct{})
	sub := &subscription{filter: "x", lost: &all.lost, read: func(in Inbound) { <-gate; got = append(got, string(in.Payload)) }}
	for i := range mailboxSize + 10 {
		sub.put(Inbound{Payload: fmt.Append(nil, i)})
	}
	close(gate)
	eventually(t, "the mailbox is empty", func() bool {
		sub.mu.Lock()
		defer sub.mu.Unlock()
		return !sub.running
	})
	if lost := all.lost.Load(); lost < 9 || got[len(got)-1] != fmt.Sprint(mailboxSize+9) {
		t.Errorf("lost %d, last read %s; want 9 or 10 lost and the newest read last", lost, got[len(got)-1])
	}
}
