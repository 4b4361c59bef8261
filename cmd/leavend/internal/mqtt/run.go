package mqtt

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"
)

// batch is how many states may be on their way to the broker at once.
const batch = 128

// Run keeps a connection and sends what waits, until ctx ends. At the end it
// sends what it can within two seconds, says offline and returns nil.
func (c *Client) Run(ctx context.Context) error {
	wait := c.timing.firstWait
	for ctx.Err() == nil {
		began := time.Now()
		err := c.serve(ctx)
		if ctx.Err() != nil {
			return nil
		}
		c.state.down(err)
		if time.Since(began) > c.timing.lastWait {
			wait = c.timing.firstWait
		}
		// The half that is left to chance keeps ten boards from coming
		// back to one broker in the same instant.
		pause(ctx, wait/2+rand.N(wait/2+1))
		wait = min(2*wait, c.timing.lastWait)
	}
	return nil
}

// pause waits for d or the end of ctx.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// serve keeps one connection until it or ctx ends.
func (c *Client) serve(ctx context.Context) error {
	s, err := c.open(ctx)
	if err != nil {
		return err
	}
	c.live.Store(s)
	c.state.up()
	err = c.onConnect(ctx, s)
	if err == nil {
		err = c.sendLoop(ctx, s)
	}
	if ctx.Err() != nil {
		c.disconnect(s)
	}
	c.live.Store(nil)
	s.end()
	return err
}

// onConnect does what every new connection needs: the subscriptions, each state
// again, and last that we are online.
func (c *Client) onConnect(ctx context.Context, s *session) error {
	if err := c.subscribeAll(s); err != nil {
		return err
	}
	c.queue.resend()
	if err := c.sendStates(ctx, s); err != nil {
		return err
	}
	// From here on an offline is a late last will, and no longer what the broker
	// retained of the run before.
	s.greeted.Store(true)
	if err := s.send(ctx, c.status(true)); err != nil {
		return err
	}
	c.endRetained(s)
	return nil
}

// status is the message that says whether the daemon is here.
func (c *Client) status(up bool) message {
	return message{topic: c.topics.Status(), payload: upDown(up), retain: true}
}

// sendLoop sends what waits until the connection or ctx ends.
func (c *Client) sendLoop(ctx context.Context, s *session) error {
	for {
		if err := c.sendAll(ctx, s); err != nil {
			return err
		}
		select {
		case <-c.queue.wake:
		case <-c.events.consumer.Wake():
		case err := <-s.lost:
			return err
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (c *Client) sendAll(ctx context.Context, s *session) error {
	if err := c.events.sendAll(ctx, s); err != nil {
		return err
	}
	return c.sendStates(ctx, s)
}

// sendStates sends the states that the broker does not have, a batch at a
// time; events that came meanwhile go first. A state that changes meanwhile
// waits for the next round: where states change faster than the broker confirms
// them there would be no end, and no event would ever go.
func (c *Client) sendStates(ctx context.Context, s *session) error {
	for left, _ := c.queue.waiting(); left > 0; {
		states := c.queue.takeStates(min(left, batch))
		if len(states) == 0 {
			return nil
		}
		left -= len(states)
		if err := s.send(ctx, states...); err != nil {
			return err
		}
		for _, m := range states {
			c.queue.stateDone(m)
		}
		c.states.Add(uint64(len(states)))
		if s.greeted.Load() && c.events.waits() {
			if err := c.events.sendAll(ctx, s); err != nil {
				return err
			}
		}
	}
	return nil
}

// disconnect sends what waits and says offline, but not for long: ctx has ended
// and the process wants to.
func (c *Client) disconnect(s *session) {
	if !s.open() {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), c.timing.goodbye)
	defer cancel()
	err := c.sendAll(ctx, s)
	s.greeted.Store(false) // our own offline comes back to us and is no late last will
	if bye := s.send(ctx, c.status(false)); bye == nil {
		s.orderly()
	} else {
		err = errors.Join(err, bye)
	}
	if err != nil {
		c.log.Warn("left the broker before all was sent", "err", err)
	}
}

// subscribeAll asks the broker for every topic that has a reader here.
func (c *Client) subscribeAll(s *session) error {
	filters := c.subs.filters()
	filters[c.topics.Status()] = 1
	refused, err := s.subscribe(filters)
	if err != nil {
		return fmt.Errorf("subscribe: %w", err)
	}
	for _, f := range refused {
		c.log.Error("the broker refuses a subscription; its ACL must allow it", "topic", f)
	}
	return nil
}

// endRetained gives up the subscriptions that only read what the broker had
// retained: our own states would come back through them for ever.
func (c *Client) endRetained(s *session) {
	time.AfterFunc(c.timing.retained, func() { s.lib.Unsubscribe(c.retained...) })
}
