package web

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// Times and limits of the event stream.
const (
	streamBeat    = 10 * time.Second       // a message at least this often: silence means the line is dead
	streamRest    = 300 * time.Millisecond // changes closer than this share a message
	streamWrite   = 20 * time.Second       // a visitor who takes nothing for so long is let go
	maxVisitors   = 256
	streamRetryMS = 2000
)

// stream sends the kitchen's state to every visitor. A message is the whole
// state, encoded once for all, so a visitor who lags skips to the newest and
// a lost message costs nothing. Nothing is queued for anybody.
type stream struct {
	snapshot func() ([]byte, error)
	news     chan struct{} // holds one token: something changed

	mu       sync.Mutex // guards what follows
	message  []byte     // the newest, as it goes over the line
	id       uint64
	next     chan struct{} // closed when message is replaced
	visitors int
}

func newStream(snapshot func() ([]byte, error)) *stream {
	return &stream{snapshot: snapshot, news: make(chan struct{}, 1), next: make(chan struct{})}
}

func (s *stream) changed() {
	select {
	case s.news <- struct{}{}:
	default:
	}
}

func (s *stream) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.visitors
}

// run makes messages until ctx ends. It asks for the state only while somebody
// listens.
func (s *stream) run(ctx context.Context) {
	beat := time.NewTicker(streamBeat)
	defer beat.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.news:
			select {
			case <-ctx.Done():
				return
			case <-time.After(streamRest):
			}
		case <-beat.C:
		}
		beat.Reset(streamBeat)
		if s.count() > 0 {
			s.renew()
		}
	}
}

// renew replaces the message and wakes everybody.
func (s *stream) renew() {
	b, err := s.snapshot()
	if err != nil {
		return // the visitors' own requests get and log the same error
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.id++
	s.message = fmt.Appendf(nil, "id: %d\nevent: now\ndata: %s\n\n", s.id, b)
	close(s.next)
	s.next = make(chan struct{})
}

// enter counts a visitor in, or says that there is room for no more.
func (s *stream) enter() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.visitors >= maxVisitors {
		return false
	}
	s.visitors++
	return true
}

func (s *stream) leave() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.visitors--
}

func (s *stream) newest() (message []byte, next <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.message, s.next
}

// getEvents streams until the visitor or the daemon goes. The server's
// deadlines are for short answers, so the stream sets its own: none for
// reading, and a fresh one for each message.
func (h watchHandler) getEvents(w http.ResponseWriter, r *http.Request) error {
	if !h.stream.enter() {
		p := problem.New(http.StatusServiceUnavailable, "full", "Too many pages are open.")
		p.RetryAfter = 30 * time.Second
		return p
	}
	defer h.stream.leave()
	_, next := h.stream.newest() // before the snapshot, so that no change falls between
	first, err := h.snaps.encoded()
	if err != nil {
		return err
	}
	head := w.Header()
	head.Set("Content-Type", "text/event-stream")
	head.Set("Cache-Control", "no-store")
	head.Set("X-Accel-Buffering", "no")
	line := http.NewResponseController(w)
	_ = line.SetReadDeadline(time.Time{})
	message := fmt.Appendf(nil, "retry: %d\nevent: now\ndata: %s\n\n", streamRetryMS, first)
	for {
		_ = line.SetWriteDeadline(time.Now().Add(streamWrite))
		if _, err := w.Write(message); err != nil {
			return nil // the visitor is gone
		}
		if err := line.Flush(); err != nil {
			return nil
		}
		select {
		case <-r.Context().Done():
			return nil
		case <-next:
		}
		if !h.sessions.rights(r).Read { // signed out meanwhile
			return nil
		}
		message, next = h.stream.newest()
	}
}
