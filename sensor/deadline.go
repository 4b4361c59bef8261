package sensor

import (
	"context"
	"sync"
	"time"
)

// deadline is the context of one read after another: it ends with its parent,
// or when the time for the read is over. One serves all the reads of a bus, so
// that a year of readings allocates no more than the first ten seconds.
//
// It may be set again only when the read it was given to has come back.
type deadline struct {
	context.Context // the parent
	timer           *time.Timer

	mu    sync.Mutex // guards what follows
	until time.Time
	done  chan struct{}
	err   error
}

// newDeadline returns a context below parent whose time is over. release ends
// its watch on the parent.
func newDeadline(parent context.Context) (p *deadline, release func() bool) {
	p = &deadline{Context: parent, done: make(chan struct{})}
	p.timer = time.AfterFunc(0, p.over)
	p.timer.Stop()
	release = context.AfterFunc(parent, func() { p.end(parent.Err()) })
	return p, release
}

// set gives the next read its time.
func (p *deadline) set(limit time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.err != nil && p.Context.Err() == nil {
		p.done, p.err = make(chan struct{}), nil
	}
	p.until = time.Now().Add(limit)
	p.timer.Reset(limit)
}

// over is the timer's call. One that comes late, from a read before, finds a
// deadline that is not reached and does nothing.
func (p *deadline) over() {
	p.mu.Lock()
	late := time.Now().Before(p.until)
	p.mu.Unlock()
	if !late {
		p.end(context.DeadlineExceeded)
	}
}

// end closes the context, once.
func (p *deadline) end(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.err == nil {
		p.err = err
		close(p.done)
	}
}

// Deadline returns when the time for the read is over.
func (p *deadline) Deadline() (time.Time, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.until, true
}

// Done returns a channel that is closed when the read should end.
func (p *deadline) Done() <-chan struct{} {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.done
}

// Err says why the read should end, or nothing.
func (p *deadline) Err() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.err
}
