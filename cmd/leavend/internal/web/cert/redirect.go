package cert

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"
)

// redirecting is a listener that accepts what begins like TLS, and sends who
// speaks plain HTTP to the same address with https: that is how a browser
// begins with an address that was typed without a scheme.
type redirecting struct {
	net.Listener
	ready chan net.Conn
	ended chan struct{}
	once  sync.Once
	err   error // of the listener; set before ended is closed
}

// Redirect returns a listener for TLS on the one given. It begins to accept at once, and
// sends who speaks plain HTTP to https.
func Redirect(l net.Listener) net.Listener {
	r := &redirecting{Listener: l, ready: make(chan net.Conn), ended: make(chan struct{})}
	go r.run()
	return r
}

func (r *redirecting) run() {
	for {
		c, err := r.Listener.Accept()
		if err != nil {
			r.err = err
			r.once.Do(func() { close(r.ended) })
			return
		}
		go r.sort(c)
	}
}

// Accept returns the next connection that speaks TLS.
func (r *redirecting) Accept() (net.Conn, error) {
	select {
	case c := <-r.ready:
		return c, nil
	case <-r.ended:
		return nil, r.err
	}
}

// tlsHandshake begins each TLS connection (RFC 8446, 5.1: ContentType).
const tlsHandshake = 0x16

// sort looks at a connection's first byte.
func (r *redirecting) sort(c net.Conn) {
	_ = c.SetDeadline(time.Now().Add(10 * time.Second)) // a connection without deadlines ends by itself
	in := bufio.NewReaderSize(c, 4096)
	first, err := in.Peek(1)
	switch {
	case err != nil:
		_ = c.Close()
	case first[0] != tlsHandshake:
		_ = toHTTPS(c, in) // who left needs no answer
	default:
		_ = c.SetDeadline(time.Time{})
		select {
		case r.ready <- &peeked{c, in}:
		case <-r.ended:
			_ = c.Close()
		}
	}
}

// toHTTPS answers one request, and closes.
func toHTTPS(c net.Conn, in *bufio.Reader) error {
	defer c.Close()
	req, err := http.ReadRequest(in)
	if err != nil {
		return err
	}
	if req.Host == "" {
		return errors.New("no host")
	}
	_, err = fmt.Fprintf(c, "HTTP/1.1 308 Permanent Redirect\r\nLocation: https://%s%s\r\nConnection: close\r\nContent-Length: 0\r\n\r\n", req.Host, req.URL.RequestURI())
	return err
}

// peeked is a connection of which the first bytes are in a buffer.
type peeked struct {
	net.Conn
	in *bufio.Reader
}

func (p *peeked) Read(b []byte) (int, error) { return p.in.Read(b) }
