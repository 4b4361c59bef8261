package mqtt

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"leavend/cmd/leavend/internal/event"
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
		c.down(err)
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

// serve is the life of one connection.
func (c *Client) serve(ctx context.Context) error {
	s, err := c.open(ctx)
	if err != nil {
		return err
	}
	c.live.Store(s)
	c.up()
	err = c.greet(ctx, s)
	if err == nil {
		err = c.pump(ctx, s)
	}
	if ctx.Err() != nil {
		c.farewell(s)
	}
	c.live.Store(nil)
	s.end()
	return err
}

// greet does what every new connection needs: the subscriptions, each state
// again, and last the word that we are here.
func (c *Client) greet(ctx context.Context, s *session) error {
	if err := c.subscribeAll(s); err != nil {
		return err
	}
	c.queue.resend()
	if err := c.sendStates(ctx, s); err != nil {
		return err
	}
	if err := s.send(ctx, c.status(true)); err != nil {
		return err
	}
	s.greeted.Store(true)
	c.lookAway(s)
	return nil
}

// status is the message that says whether the daemon is here.
func (c *Client) status(up bool) message {
	return message{topic: c.topics.Status(), payload: upDown(up), retain: true}
}

// pump sends what waits until the connection or ctx ends.
func (c *Client) pump(ctx context.Context, s *session) error {
	for {
		if err := c.sendAll(ctx, s); err != nil {
			return err
		}
		select {
		case <-c.queue.wake:
		case <-c.events.Wake():
		case err := <-s.lost:
			return err
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (c *Client) sendAll(ctx context.Context, s *session) error {
	if err := c.sendEvents(ctx, s); err != nil {
		return err
	}
	return c.sendStates(ctx, s)
}

// sendEvents sends what waits in the log. The cursor moves on only when the
// broker has confirmed an event.
func (c *Client) sendEvents(ctx context.Context, s *session) error {
	for r, more := c.events.Next(time.Now()); more; r, more = c.events.Next(time.Now()) {
		m, ok := c.message(r)
		if !ok {
			c.log.Error("an event of the log cannot be read and is not sent", "record", r.Seq)
		} else if err := s.send(ctx, m); err != nil {
			return err
		}
		c.done(r)
		if ok {
			c.tell.events.Add(1)
		}
	}
	c.tellLost()
	return nil
}

// done moves our cursor behind a record, even while the process ends.
func (c *Client) done(r event.Record) {
	ctx, end := context.WithTimeout(context.Background(), commitLimit)
	defer end()
	if err := c.events.Done(ctx, r); err != nil {
		c.log.Debug("a sent event could not be marked yet", "err", err)
	}
}

// tellLost tells on the about topic that events were lost, where more were.
func (c *Client) tellLost() {
	lost := c.events.Lost()
	if before := c.tell.lost.Swap(lost); lost == before {
		return
	} else if before == 0 {
		c.log.Error("too many events waited for the broker; the oldest are lost", "lost", lost)
	}
	c.about()
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
		c.tell.states.Add(uint64(len(states)))
		if _, ok := c.events.Next(time.Now()); ok && s.greeted.Load() {
			if err := c.sendEvents(ctx, s); err != nil {
				return err
			}
		}
	}
	return nil
}

// farewell sends what waits and says offline, but not for long: ctx has ended
// and the process wants to.
func (c *Client) farewell(s *session) {
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

func (c *Client) up() {
	c.tell.connections.Add(1)
	c.setTrouble("")
	c.log.Info("connected to the broker", "broker", c.url.Host)
}

// down notes why there is no connection; the same reason is logged once.
func (c *Client) down(err error) {
	if err == nil {
		err = errors.New("the broker closed the connection")
	}
	text := err.Error()
	if c.setTrouble(text) {
		c.log.Warn("no connection to the broker; trying again", "broker", c.url.Host, "err", text)
	}
}

// setTrouble reports whether the text is new.
func (c *Client) setTrouble(text string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.trouble == text && text != "" {
		return false
	}
	if (c.trouble == "") != (text == "") || c.since.IsZero() {
		c.since = time.Now()
	}
	c.trouble = text
	return true
}

// subscribeAll asks the broker for every topic that somebody here wants.
func (c *Client) subscribeAll(s *session) error {
	c.mu.Lock()
	filters := make(map[string]byte, len(c.subs)+1)
	for _, sub := range c.subs {
		filters[sub.filter] = max(filters[sub.filter], sub.qos)
	}
	c.mu.Unlock()
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
