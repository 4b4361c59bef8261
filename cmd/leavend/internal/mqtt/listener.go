package mqtt

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"
)

// ownListener is the name of the listener for our own client.
const ownListener = "inner"

// connectLimit is how long a new connection may take to say who it is. The broker
// library sets its own deadline only after that.
const connectLimit = 10 * time.Second

// writeLimit is how long a client may leave a message unread. Without it a
// client that reads nothing would hold a thousand messages in memory.
const writeLimit = 5 * time.Second

// tcpListener is where connections come in. It bounds how many are open and how long
// they may stay silent at first: where all places are taken, the oldest connection
// that has not said who it is makes room. Unlike the library's own listener it
// knows which connections are open, so that the broker can close them all before
// it ends. The library's own count of a listener's clients takes its read lock
// twice over and stands still for ever when another client comes or goes in
// between, so it is never asked.
type tcpListener struct {
	*listeners.Net
	id       string
	listener net.Listener
	most     int
	tls      *tls.Config    // nil without TLS
	served   sync.WaitGroup // the connections that the library serves

	mu     sync.Mutex     // guards what follows
	conns  []*limitedConn // open, in the order they came
	closed bool
}

// listenTCP listens on an address, for so many connections at most.
func listenTCP(name, address string, most int, conf *tls.Config) (*tcpListener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("mqtt: broker: %w", err)
	}
	return &tcpListener{Net: listeners.NewNet(name, l), id: name, listener: l, most: most, tls: conf}, nil
}

// Serve lets connections in until the listener closes. An error of Accept that
// passes is waited out.
func (l *tcpListener) Serve(establish listeners.EstablishFn) {
	for {
		conn, err := l.listener.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil:
			time.Sleep(100 * time.Millisecond)
			continue
		}
		if c := l.admit(conn); c != nil {
			go l.serve(c, establish)
		} else {
			conn.Close()
		}
	}
}

// serve hands a connection to the library until it ends.
func (l *tcpListener) serve(c *limitedConn, establish listeners.EstablishFn) {
	defer l.served.Done()
	defer c.Close()
	var conn net.Conn = c
	if l.tls != nil {
		conn = tls.Server(c, l.tls)
	}
	_ = establish(l.id, conn) // the broker's hooks log why a client left
}

// admit gives a connection a place, or returns nil where every place is taken
// by a client that is known.
func (l *tcpListener) admit(conn net.Conn) *limitedConn {
	c := &limitedConn{Conn: conn, listener: l}
	l.mu.Lock()
	var silent *limitedConn
	if len(l.conns) >= l.most {
		if i := slices.IndexFunc(l.conns, func(c *limitedConn) bool { return !c.identified }); i >= 0 {
			silent = l.conns[i]
		}
	}
	if l.closed || len(l.conns) >= l.most && silent == nil {
		l.mu.Unlock()
		return nil
	}
	l.conns = append(l.conns, c)
	l.served.Add(1)
	l.mu.Unlock()
	if silent != nil {
		silent.Close()
	}
	conn.SetDeadline(time.Now().Add(connectLimit))
	return c
}

// busy reports whether a connection is open.
func (l *tcpListener) busy() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.conns) > 0
}

// Close ends the listener. The library's way to close the connections is left
// alone; empty did that.
func (l *tcpListener) Close(listeners.CloseFn) { l.listener.Close() }

// empty closes all connections and takes no new one.
func (l *tcpListener) empty() {
	l.mu.Lock()
	l.closed = true
	open := slices.Clone(l.conns)
	l.mu.Unlock()
	for _, c := range open {
		c.Close()
	}
	l.served.Wait()
}

// limitedConn is a connection that gives its place back when it is closed.
type limitedConn struct {
	net.Conn
	listener   *tcpListener
	identified bool // guarded by listener.mu
}

// markIdentified notes that a connection's client has said who it is.
func markIdentified(conn net.Conn) {
	if t, ok := conn.(*tls.Conn); ok {
		conn = t.NetConn()
	}
	if c, ok := conn.(*limitedConn); ok {
		c.listener.mu.Lock()
		defer c.listener.mu.Unlock()
		c.identified = true
	}
}

// Write gives the other side a bounded time to read.
func (c *limitedConn) Write(b []byte) (int, error) {
	c.Conn.SetWriteDeadline(time.Now().Add(writeLimit))
	return c.Conn.Write(b)
}

// Close ends the connection.
func (c *limitedConn) Close() error {
	l := c.listener
	l.mu.Lock()
	l.conns = slices.DeleteFunc(l.conns, func(o *limitedConn) bool { return o == c })
	l.mu.Unlock()
	return c.Conn.Close()
}
