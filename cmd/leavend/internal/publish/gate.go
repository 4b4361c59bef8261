package publish

import (
	"errors"
	"net"
	"sync"
	"time"
)

// firstWord is how long a new connection may take to say who it is. The broker
// library sets its own deadline only after that.
const firstWord = 10 * time.Second

// gate is a listener that bounds how many connections are open and how long
// they may stay silent at first. The broker library stops serving at the
// first error that Accept returns, so passing ones are waited out here.
type gate struct {
	net.Listener
	room chan struct{}
}

func newGate(l net.Listener, most int) net.Listener {
	return &gate{Listener: l, room: make(chan struct{}, most)}
}

// Accept returns the next connection for which there is room; others are
// closed at once.
func (g *gate) Accept() (net.Conn, error) {
	for {
		conn, err := g.Listener.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return nil, err
		case err != nil:
			time.Sleep(100 * time.Millisecond)
			continue
		}
		select {
		case g.room <- struct{}{}:
		default:
			conn.Close()
			continue
		}
		conn.SetDeadline(time.Now().Add(firstWord))
		return &guest{Conn: conn, leave: sync.OnceFunc(func() { <-g.room })}, nil
	}
}

// guest gives its room back when it is closed.
type guest struct {
	net.Conn
	leave func()
}

// Close ends the connection.
func (c *guest) Close() error {
	c.leave()
	return c.Conn.Close()
}
