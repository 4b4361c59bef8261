package notify

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// cachedSender opens the sender of one recipient, and keeps it while the address
// stays the same.
type cachedSender struct {
	address, key string
	sender       Sender
}

// send sends one message with the time limit of a send.
func (c *cachedSender) send(ctx context.Context, p Recipient, open func(address, key string) (Sender, error), l Message) error {
	address, key, err := p.Address()
	if err != nil {
		// It names the file or variable, never what is in it.
		return &Failure{Address, err.Error()}
	}
	if c.sender == nil || address != c.address || key != c.key {
		s, err := open(address, key)
		if err != nil {
			return failure(err)
		}
		*c = cachedSender{address, key, s}
	}
	ctx, cancel := context.WithTimeout(ctx, sendLimit)
	defer cancel()
	return failure(c.sender.Send(ctx, l))
}

var errNoSuch = errors.New("notify: no recipient has that name")

// Try sends a test to each recipient now, or to the one called name, past the
// outbox, and tells what came of each.
func Try(ctx context.Context, people []Recipient, name string, o Opts, tell func(recipient string, err error)) error {
	open, now := o.Open, o.Now
	if open == nil {
		open = Open
	}
	if now == nil {
		now = time.Now
	}
	found := false
	for _, p := range people {
		if name != "" && p.Name != name {
			continue
		}
		found = true
		at := now()
		l := o.Renderer.Render(Notice{Kind: Test, At: at}, at)
		l.ID = fmt.Sprintf("test-%d", at.UnixNano())
		tell(p.Name, (&cachedSender{}).send(ctx, p, open, l))
	}
	if !found {
		return errNoSuch
	}
	return nil
}
