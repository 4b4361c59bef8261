package mqtt

import (
	"errors"
	"net"
	"sync"
	"time"
)

// connectLimit is how long a new connection may take to say who it is. The broker
// library sets its own deadline only after that.
const connectLimit = 10 * time.Second

// writeLimit is how long a client may leave a message unread. Without it a
// client that reads nothing would hold a thousand messages in memory.
const writeLimit = 5 * time.Second

// connLimit is a listener that bounds how many connections are open and how long
// they may stay silent at first. Where all are taken, the oldest that has not
// said who it is makes room. The broker library stops serving at the first
// error that Accept returns, so passing ones are waited out here.
type connLimit struct {
	net.Listener
	most int

	mu    sync.Mutex     // guards what follows
	conns []*limitedConn // open, in the order they came
}

func newConnLimit(l net.Listener, most int) *connLimit { return &connLimit{Listener: l, most: most} }

// Accept returns the next connection for which there is room; others are
// closed at once.
func (g *connLimit) Accept() (net.Conn, error) {
	for {
		conn, err := g.Listener.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return nil, err
		case err != nil:
			time.Sleep(100 * time.Millisecond)
			continue
		}
		if c := g.admit(conn); c != nil {
			return c, nil
		}
		conn.Close()
	}
}

// admit gives a connection a place, or returns nil where every place is taken
// by a client that is known.
func (g *connLimit) admit(conn net.Conn) *limitedConn {
	c := &limitedConn{Conn: conn, limit: g}
	g.mu.Lock()
	silent := g.fullWithSilent()
	if len(g.conns) >= g.most && silent == nil {
		g.mu.Unlock()
		return nil
	}
	g.conns = append(g.conns, c)
	g.mu.Unlock()
	if silent != nil {
		silent.Close()
	}
	conn.SetDeadline(time.Now().Add(connectLimit))
	return c
}

// fullWithSilent returns the oldest connection that is not known, where no place is
// free.
func (g *connLimit) fullWithSilent() *limitedConn {
	if len(g.conns) < g.most {
		return nil
	}
	for _, c := range g.conns {
		if !c.identified {
			return c
		}
	}
	return nil
}

// markIdentified notes that a connection's client has said who it is.
func markIdentified(conn net.Conn) {
	if t, ok := conn.(interface{ NetConn() net.Conn }); ok {
		conn = t.NetConn() // below TLS
	}
	if c, ok := conn.(*limitedConn); ok {
		c.limit.mu.Lock()
		c.identified = true
		c.limit.mu.Unlock()
	}
}

func (g *connLimit) leave(c *limitedConn) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for i := range g.conns {
		if g.conns[i] == c {
			g.conns = append(g.conns[:i], g.conns[i+1:]...)
			return
		}
	}
}

// limitedConn is a connection that gives its place back when it is closed.
type limitedConn struct {
	net.Conn
	limit      *connLimit
	identified bool // guarded by limit.mu
}

// Write gives the other side a bounded time to read.
func (c *limitedConn) Write(b []byte) (int, error) {
	c.Conn.SetWriteDeadline(time.Now().Add(writeLimit))
	return c.Conn.Write(b)
}

// Close ends the connection.
func (c *limitedConn) Close() error {
	c.limit.leave(c)
	return c.Conn.Close()
}
