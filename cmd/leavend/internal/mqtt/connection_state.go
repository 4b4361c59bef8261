package mqtt

import (
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"
)

// connectionState knows since when there is a connection to the broker, or why
// there is none.
type connectionState struct {
	broker string // for the log
	log    *slog.Logger
	made   atomic.Uint64 // connections since the start

	mu      sync.Mutex // guards all below
	since   time.Time
	trouble string
}

// up notes a new connection.
func (s *connectionState) up() {
	s.made.Add(1)
	s.set("")
	s.log.Info("connected to the broker", "broker", s.broker)
}

// down notes why there is no connection; the same reason is logged once.
func (s *connectionState) down(err error) {
	if err == nil {
		err = errors.New("the broker closed the connection")
	}
	text := err.Error()
	if s.set(text) {
		s.log.Warn("no connection to the broker; trying again", "broker", s.broker, "err", text)
	}
}

// set reports whether the text is new.
func (s *connectionState) set(trouble string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.trouble == trouble && trouble != "" {
		return false
	}
	if (s.trouble == "") != (trouble == "") || s.since.IsZero() {
		s.since = time.Now()
	}
	s.trouble = trouble
	return true
}

// now returns since when it is so, and why there is no connection.
func (s *connectionState) now() (since time.Time, trouble string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.since, s.trouble
}
