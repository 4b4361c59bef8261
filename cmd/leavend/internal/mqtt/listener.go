package mqtt

import (
	"net"
	"sync"

	"github.com/mochi-mqtt/server/v2/listeners"
)

// tcpListener is where connections come in. Unlike the library's own listener it
// knows which of them are still inside, so that the broker can see everybody
// out before it closes. The library's own count of a listener's clients takes
// its read lock twice over and stands still for ever when another client comes
// or goes in between, so it is never asked.
type tcpListener struct {
	*listeners.Net
	id       string
	listener net.Listener

	mu     sync.Mutex // guards inside and closed
	inside map[net.Conn]struct{}
	closed bool
	served sync.WaitGroup // those inside
}

func newTCPListener(id string, l net.Listener) *tcpListener {
	return &tcpListener{Net: listeners.NewNet(id, l), id: id, listener: l, inside: map[net.Conn]struct{}{}}
}

// Serve lets connections in until the listener closes.
func (h *tcpListener) Serve(establish listeners.EstablishFn) {
	for {
		conn, err := h.listener.Accept()
		if err != nil {
			return
		}
		if !h.enter(conn) {
			conn.Close()
			return
		}
		go func() {
			defer h.leave(conn)
			_ = establish(h.id, conn) // the broker's hooks log why a client left
		}()
	}
}

func (h *tcpListener) enter(conn net.Conn) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed {
		return false
	}
	h.inside[conn] = struct{}{}
	h.served.Add(1)
	return true
}

func (h *tcpListener) leave(conn net.Conn) {
	h.mu.Lock()
	delete(h.inside, conn)
	h.mu.Unlock()
	h.served.Done()
}

// busy reports whether anybody is inside.
func (h *tcpListener) busy() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.inside) > 0
}

// Close ends the listener. The library's way to see the clients out is left
// alone; empty did that.
func (h *tcpListener) Close(listeners.CloseFn) { h.listener.Close() }

// empty closes all connections and takes no new one.
func (h *tcpListener) empty() {
	h.mu.Lock()
	h.closed = true
	for conn := range h.inside {
		conn.Close()
	}
	h.mu.Unlock()
	h.served.Wait()
}
