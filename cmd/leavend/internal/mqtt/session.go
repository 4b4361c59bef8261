package mqtt

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// session is one connection and the library client that lives and dies with
// it. The library's own reconnection stays off: with it, a message published
// while the connection was down would be stored and sent later.
type session struct {
	lib     mqtt.Client
	wire    atomic.Pointer[resetConn]
	timing  timing
	lost    chan error  // holds why the connection ended
	greeted atomic.Bool // the status topic says online
	ended   atomic.Bool // no connection may be made any more
}

// errSilent says that the broker did not confirm a message in time.
var errSilent = errors.New("the broker does not confirm messages")

// open connects and is let in, or returns why not.
func (c *Client) open(ctx context.Context) (*session, error) {
	var login Login
	if c.opts.Login != nil {
		var err error
		if login, err = c.opts.Login(); err != nil {
			return nil, err
		}
	}
	s := &session{timing: c.timing, lost: make(chan error, 1)}
	s.lib = mqtt.NewClient(c.library(s, login))
	token := s.lib.Connect()
	err := s.await(ctx, token, c.timing.connect+time.Second)
	if err != nil {
		s.end()
		return nil, fmt.Errorf("connect: %w", err)
	}
	return s, nil
}

// library sets up the client library for one connection.
func (c *Client) library(s *session, login Login) *mqtt.ClientOptions {
	o := mqtt.NewClientOptions()
	o.Servers = []*url.URL{c.url}
	o.SetClientID(c.id).SetUsername(login.User).SetPassword(login.Password)
	o.SetProtocolVersion(4).SetCleanSession(true)
	o.SetAutoReconnect(false).SetConnectRetry(false).SetResumeSubs(false)
	o.SetKeepAlive(c.timing.keepAlive).SetPingTimeout(c.timing.keepAlive / 2)
	o.SetConnectTimeout(c.timing.connect).SetWriteTimeout(c.timing.write)
	// Order is kept because our handler only puts the message into a
	// mailbox and never waits.
	o.SetOrderMatters(true)
	o.SetWill(c.topics.Status(), string(upDown(false)), 1, true)
	o.SetDefaultPublishHandler(func(_ mqtt.Client, m mqtt.Message) { c.receive(m) })
	o.SetConnectionLostHandler(func(_ mqtt.Client, err error) { s.drop(err) })
	o.SetCustomOpenConnectionFn(func(u *url.URL, lo mqtt.ClientOptions) (net.Conn, error) {
		w, err := dial(u, login.TLS, c.timing.connect)
		if err != nil {
			return nil, err
		}
		s.wire.Store(w)
		if s.ended.Load() {
			w.Close()
			return nil, net.ErrClosed
		}
		return w, nil
	})
	return o
}

// open reports whether the connection stands, as far as one side can know.
func (s *session) open() bool { return s.lib.IsConnectionOpen() }

// drop notes the end of the connection once.
func (s *session) drop(err error) {
	select {
	case s.lost <- err:
	default:
	}
}

// send publishes messages at QoS 1 and returns when the broker has confirmed
// them all.
func (s *session) send(ctx context.Context, all ...message) error {
	tokens := make([]mqtt.Token, len(all))
	for i, m := range all {
		tokens[i] = s.lib.Publish(m.topic, 1, m.retain, m.payload)
	}
	for i, t := range tokens {
		if err := s.await(ctx, t, s.timing.ack); err != nil {
			return fmt.Errorf("send %s: %w", all[i].topic, err)
		}
	}
	return nil
}

// publishNow hands a command to the network at QoS 0, so that no one on the way
// keeps it for later. If it fails, the connection ends with it: a command that
// was reported as not sent must not be sent after all.
func (s *session) publishNow(topic, payload string) error {
	sent := make(chan error, 1)
	go func() {
		t := s.lib.Publish(topic, 0, false, payload)
		t.WaitTimeout(s.timing.write)
		sent <- t.Error()
	}()
	timer := time.NewTimer(s.timing.command)
	defer timer.Stop()
	err := errors.New("the network takes nothing")
	select {
	case err = <-sent:
	case <-timer.C:
	}
	if err != nil {
		s.end()
		return fmt.Errorf("mqtt: command %s: %w", topic, err)
	}
	return nil
}

// await waits for the broker's word, the end of the connection or ctx, but no
// longer than limit. A library token may be left open for ever by a lost
// connection, so it is never waited for alone.
func (s *session) await(ctx context.Context, t mqtt.Token, limit time.Duration) error {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case <-t.Done():
		return t.Error()
	case err := <-s.lost:
		s.drop(err)
		return err
	case <-timer.C:
		return errSilent
	case <-ctx.Done():
		return ctx.Err()
	}
}

// subscribe asks for all filters and returns those that the broker refuses.
func (s *session) subscribe(filters map[string]byte) (refused []string, err error) {
	t := s.lib.SubscribeMultiple(filters, nil).(*mqtt.SubscribeToken)
	if err := s.await(context.Background(), t, s.timing.ack); err != nil {
		return nil, err
	}
	for f, code := range t.Result() {
		if code == 0x80 {
			refused = append(refused, f)
		}
	}
	return refused, nil
}

// orderly lets the connection end with the protocol's goodbye, so that the
// broker does not send our last will.
func (s *session) orderly() {
	if w := s.wire.Load(); w != nil {
		w.orderly.Store(true)
	}
	s.lib.Disconnect(uint(s.timing.goodbye.Milliseconds()))
}

// end closes the connection for good. Unless it ended in order, it is reset
// without a goodbye: the broker then sends our last will, and nothing unsent
// survives.
func (s *session) end() {
	s.ended.Store(true)
	if w := s.wire.Load(); w != nil && !w.orderly.Load() {
		w.Close()
	}
}
