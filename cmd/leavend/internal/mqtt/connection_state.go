package mqtt

import (
	"errors"
	"log/slog"
	"regexp"
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
	noLogin bool // the trouble is with the login's files
}

// errLogin says that what the login needs cannot be read from its files.
var errLogin = errors.New("mqtt: the login cannot be read")

// localPort is our own side of a connection, which is new for each: two errors
// that differ in it alone are one.
var localPort = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`:\d+->`) })

// up notes a new connection.
func (s *connectionState) up() {
	s.made.Add(1)
	s.set("", false)
	s.log.Info("connected to the broker", "broker", s.broker)
}

// down notes why there is no connection; the same reason is logged once.
func (s *connectionState) down(err error) {
	if err == nil {
		err = errors.New("the broker closed the connection")
	}
	text := err.Error()
	if s.set(text, errors.Is(err, errLogin)) {
		s.log.Warn("no connection to the broker; trying again", "broker", s.broker, "err", text)
	}
}

// set reports whether the text is new.
func (s *connectionState) set(trouble string, noLogin bool) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.noLogin = noLogin
	trouble = localPort().ReplaceAllString(trouble, "->")
	if s.trouble == trouble && trouble != "" {
		return false
	}
	if (s.trouble == "") != (trouble == "") || s.since.IsZero() {
		s.since = time.Now()
	}
	s.trouble = trouble
	return true
}

// now returns since when it is so, why there is no connection, and whether the
// login's files are to blame.
func (s *connectionState) now() (since time.Time, trouble string, noLogin bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.since, s.trouble, s.noLogin
}
