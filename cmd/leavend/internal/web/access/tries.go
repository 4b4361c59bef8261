package access

import (
	"net/netip"
	"sync"
	"time"
)

// Limits on guessing the password.
const (
	longestWait  = 15 * time.Minute
	forgetTries  = time.Hour
	triesAMinute = 20 // of everybody together
	maxGuessers  = 512
)

// FreeTries are those before the waiting starts.
const FreeTries = 5

// Tries slows down whoever guesses: each try past the free ones doubles the
// wait of that address, and all addresses together have a rate.
type Tries struct {
	now func() time.Time

	mu       sync.Mutex // guards what follows
	by       map[netip.Prefix]guesser
	minute   time.Time
	inMinute int
}

type guesser struct {
	count int
	last  time.Time
	until time.Time
}

// NewTries counts by a clock.
func NewTries(now func() time.Time) *Tries {
	return &Tries{now: now, by: map[netip.Prefix]guesser{}}
}

// Take counts a try before it is checked, so that many at once count as many.
// It returns how long the caller has to wait, zero meaning go on.
func (t *Tries) Take(from netip.Addr) time.Duration {
	key := neighbourhood(from)
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if now.Sub(t.minute) >= time.Minute || now.Before(t.minute) {
		t.minute, t.inMinute = now, 0
	}
	g := t.by[key]
	if wait := g.until.Sub(now); wait > 0 {
		return wait
	}
	if t.inMinute >= triesAMinute {
		return t.minute.Add(time.Minute).Sub(now)
	}
	t.inMinute++
	if now.Sub(g.last) > forgetTries {
		g.count = 0
	}
	g.count++
	g.last = now
	if over := g.count - FreeTries; over >= 0 {
		g.until = now.Add(min(longestWait, time.Second<<min(over, 12)))
	}
	t.forget(now)
	t.by[key] = g
	return 0
}

// Forgive wipes an address's tries after the right password.
func (t *Tries) Forgive(from netip.Addr) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.by, neighbourhood(from))
}

// forget keeps the table small. When it is full of fresh guessers, all start
// again; the rate of everybody together still holds.
func (t *Tries) forget(now time.Time) {
	if len(t.by) < maxGuessers {
		return
	}
	for k, g := range t.by {
		if now.Sub(g.last) > forgetTries {
			delete(t.by, k)
		}
	}
	if len(t.by) >= maxGuessers {
		clear(t.by)
	}
}

// neighbourhood is the address itself, or for IPv6 its /64: one machine may
// use any address of that.
func neighbourhood(a netip.Addr) netip.Prefix {
	a = a.Unmap()
	bits := a.BitLen()
	if a.Is6() {
		bits = 64
	}
	p, err := a.WithZone("").Prefix(bits)
	if err != nil { // the zero address, of a peer that could not be told
		return netip.Prefix{}
	}
	return p
}
