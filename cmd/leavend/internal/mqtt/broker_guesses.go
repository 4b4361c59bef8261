package mqtt

import (
	"net"
	"sync"
	"time"
)

// Wrong logins that are free before a login has to wait, the longest wait, and
// how many logins are remembered. The wait doubles with each further wrong
// login, from one second. The numbers are guesses.
const (
	freeGuesses = 5
	longestWait = 5 * time.Minute
	mostLogins  = 1024
)

// account is a user's name at an address.
type account struct{ user, address string }

// guesses counts wrong logins.
type guesses struct {
	mu sync.Mutex
	by map[account]*guess
}

// guess is what was tried for one login.
type guess struct {
	wrong int
	last  time.Time
}

// wait is how long the login has to wait after its last wrong login.
func (g *guess) wait() time.Duration {
	over := g.wrong - freeGuesses
	if over < 0 {
		return 0
	}
	return min(longestWait, time.Second<<min(over, 16))
}

// waits reports whether a login has to wait still.
func (g *guesses) waits(l account, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	one, ok := g.by[l]
	return ok && now.Sub(one.last) < one.wait()
}

// wrong counts a wrong login and returns how long the next one has to wait. An
// hour after the last one the count starts again.
func (g *guesses) wrong(l account, now time.Time) time.Duration {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.by == nil {
		g.by = map[account]*guess{}
	}
	if len(g.by) >= mostLogins {
		g.dropOldest()
	}
	one, ok := g.by[l]
	if !ok || now.Sub(one.last) > time.Hour {
		one = &guess{}
		g.by[l] = one
	}
	one.wrong++
	one.last = now
	return one.wait()
}

func (g *guesses) dropOldest() {
	var oldest account
	for l, one := range g.by {
		if first := g.by[oldest]; first == nil || one.last.Before(first.last) {
			oldest = l
		}
	}
	delete(g.by, oldest)
}

// addressOf is the address of a remote without its port. Of an IPv6 address
// only the network counts, for a machine has as many as it likes in there.
func addressOf(remote string) string {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		return remote
	}
	if ip := net.ParseIP(host); ip != nil && ip.To4() == nil {
		return ip.Mask(net.CIDRMask(64, 128)).String()
	}
	return host
}
