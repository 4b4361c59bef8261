package notify

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"sync"
	"time"
)

// Message is a notice on its way to one recipient.
type Message struct {
	ID        int64
	Recipient string // a lane, see Notifier
	Kind      Kind
	Vessel    string
	Text      string // as it would read at the time it was put in
	Body      json.RawMessage
	Event     time.Time
	Expires   time.Time
	Attempts  int
	NextTry   time.Time
}

// Outbox keeps messages on the disk. Due gives each lane's next message whose
// time has come; the later ones of the lane wait for it. Messages that have
// expired are not given.
type Outbox interface {
	Enqueue(ctx context.Context, all ...Message) error
	Due(ctx context.Context, now time.Time) ([]Message, error)
	Waiting(ctx context.Context) ([]Message, error) // oldest first
	Sent(ctx context.Context, id int64, at time.Time) error
	Failed(ctx context.Context, id int64, why string, next time.Time) error
	GiveUp(ctx context.Context, id int64, at time.Time) error
}

// shelf is an outbox that takes a message even while the disk takes nothing,
// which is when the baker most needs one. Such a message is kept in memory
// under a negative number, and a mark that could not be made on the disk is
// remembered, so that a full disk does not make a message repeat for ever.
type shelf struct {
	disk Outbox

	mu     sync.Mutex // guards what follows
	memory []Message
	next   int64          // the last number given, counting down
	marks  map[int64]mark // to be made on the disk yet
}

// mark is what became of a message that the disk still calls waiting.
type mark struct {
	at   time.Time
	sent bool
}

func newShelf(disk Outbox) *shelf { return &shelf{disk: disk, marks: map[int64]mark{}} }

// Enqueue never fails; it returns what kept the messages from the disk.
func (s *shelf) Enqueue(ctx context.Context, all ...Message) error {
	err := s.disk.Enqueue(ctx, all...)
	if err == nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range all {
		s.next--
		m.ID = s.next
		s.memory = append(s.memory, m)
	}
	return err
}

// Due gives what the disk gives, and what is in memory.
func (s *shelf) Due(ctx context.Context, now time.Time) ([]Message, error) {
	s.retry(ctx)
	due, err := s.disk.Due(ctx, now)
	s.mu.Lock()
	defer s.mu.Unlock()
	due = slices.DeleteFunc(due, func(m Message) bool { _, done := s.marks[m.ID]; return done })
	s.memory = slices.DeleteFunc(s.memory, func(m Message) bool { return !m.Expires.IsZero() && !m.Expires.After(now) })
	taken := map[string]bool{}
	for _, m := range due {
		taken[m.Recipient] = true
	}
	for _, m := range s.memory {
		if !taken[m.Recipient] && !m.NextTry.After(now) {
			due = append(due, m)
		}
		taken[m.Recipient] = true
	}
	return due, err
}

// Waiting gives everything that is not done.
func (s *shelf) Waiting(ctx context.Context) ([]Message, error) {
	all, err := s.disk.Waiting(ctx)
	s.mu.Lock()
	defer s.mu.Unlock()
	all = slices.DeleteFunc(all, func(m Message) bool { _, done := s.marks[m.ID]; return done })
	return append(all, s.memory...), err
}

// End marks a message as sent or given up.
func (s *shelf) End(ctx context.Context, id int64, at time.Time, sent bool) error {
	if s.forget(id) {
		return nil
	}
	err := s.mark(ctx, id, mark{at, sent})
	if err != nil {
		s.mu.Lock()
		s.marks[id] = mark{at, sent}
		s.mu.Unlock()
	}
	return err
}

func (s *shelf) mark(ctx context.Context, id int64, m mark) error {
	if m.sent {
		return s.disk.Sent(ctx, id, m.at)
	}
	return s.disk.GiveUp(ctx, id, m.at)
}

// Failed puts a message off.
func (s *shelf) Failed(ctx context.Context, id int64, why string, next time.Time) error {
	s.mu.Lock()
	for i := range s.memory {
		if s.memory[i].ID == id {
			s.memory[i].Attempts++
			s.memory[i].NextTry = next
			s.mu.Unlock()
			return nil
		}
	}
	s.mu.Unlock()
	return s.disk.Failed(ctx, id, why, next)
}

// forget takes a message out of memory, if it is there.
func (s *shelf) forget(id int64) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	before := len(s.memory)
	s.memory = slices.DeleteFunc(s.memory, func(m Message) bool { return m.ID == id })
	return len(s.memory) < before
}

// retry makes the marks that the disk did not take.
func (s *shelf) retry(ctx context.Context) {
	s.mu.Lock()
	todo := make(map[int64]mark, len(s.marks))
	for id, m := range s.marks {
		todo[id] = m
	}
	s.mu.Unlock()
	for id, m := range todo {
		if err := s.mark(ctx, id, m); err != nil && !errors.Is(err, ErrGone) {
			return // the disk is still full; the next round tries again
		}
		s.mu.Lock()
		delete(s.marks, id)
		s.mu.Unlock()
	}
}

// ErrGone says that the outbox has no such message waiting: it has expired.
var ErrGone = errors.New("no such message waits")
