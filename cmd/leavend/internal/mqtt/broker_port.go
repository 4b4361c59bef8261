package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"sync"
)

// Port is an address of the broker for others. What it needs from files, a
// certificate and passwords, is read when it opens, so that a file which is
// missing can be put back while the broker runs.
type Port struct {
	Name    string // of the setting: mqtt.listen or mqtt.listen_tls
	b       *Broker
	address string
	secure  bool // by TLS

	mu     sync.Mutex    // guards what follows
	open   *tcpListener  // nil while the port is not open
	ended  chan struct{} // closed with it
	former []*tcpListener
}

// Open reads the files that the port needs and listens, unless it listens
// already. Clients come in as soon as the broker runs.
func (p *Port) Open() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open != nil {
		return nil
	}
	users, err := hashUsers(p.b.opts.Users)
	if err != nil {
		return err
	}
	var conf *tls.Config
	if p.secure {
		if conf, err = p.b.opts.TLS(); err != nil {
			return err
		}
	}
	h, err := listenTCP(p.Name, p.address, p.b.opts.Clients, conf)
	if err != nil {
		return err
	}
	p.b.auth.users.Store(users)
	p.open, p.ended = h, make(chan struct{})
	go p.serve(h, p.ended)
	return nil
}

// serve lets clients in from when the broker runs until the port ends.
func (p *Port) serve(h *tcpListener, ended <-chan struct{}) {
	select {
	case <-p.b.serves:
		h.Serve(p.b.server.EstablishConnection)
	case <-ended:
	}
	p.Close()
}

// Wait returns nil when ctx ends, and an error when the port ends before.
func (p *Port) Wait(ctx context.Context) error {
	p.mu.Lock()
	ended := p.ended
	p.mu.Unlock()
	if ended == nil {
		return errors.New("mqtt: broker: the port is not open")
	}
	select {
	case <-ctx.Done():
		return nil
	case <-ended:
		return fmt.Errorf("mqtt: broker: %s ended", p.address)
	}
}

// Close lets no further clients in. Those who are in stay until the broker ends.
func (p *Port) Close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open == nil {
		return
	}
	p.open.listener.Close()
	close(p.ended)
	p.former = append(p.former, p.open)
	p.open = nil
}

// Addr is where the port listens; nil while it is not open.
func (p *Port) Addr() net.Addr {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open == nil {
		return nil
	}
	return p.open.listener.Addr()
}

// empty sees everybody out.
func (p *Port) empty() {
	p.Close()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, h := range p.former {
		h.empty()
	}
	p.former = nil
}
