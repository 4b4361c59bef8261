package event

import (
	"context"
	"time"
)

// Consumer is one reader of the log, with its place in it. A consumer of events
// gets every record that names no other; one of its own letters gets those that
// name it, and nothing else.
type Consumer struct {
	log    *Log
	name   string
	events bool
	wake   chan struct{} // holds one token while there may be something new

	at   int64  // guarded by log.mu: it is done up to here
	lost uint64 // guarded by log.mu: records that fell over the bound
}

// Events registers a consumer of events. One that is new hears of what happens
// from now on.
func (l *Log) Events(name string) *Consumer { return l.register(name, true) }

// Letters registers a consumer of the records that name it.
func (l *Log) Letters(name string) *Consumer { return l.register(name, false) }

func (l *Log) register(name string, events bool) *Consumer {
	l.mu.Lock()
	defer l.mu.Unlock()
	if c := l.consumers[name]; c != nil {
		return c
	}
	c := &Consumer{log: l, name: name, events: events, wake: make(chan struct{}, 1)}
	at, known := l.stored[name]
	switch {
	case known:
		c.at = at
	case events:
		c.at = l.seq
		l.next.Moves = merged(l.next.Moves, map[string]int64{name: l.seq})
	}
	l.consumers[name] = c
	c.poke()
	return c
}

func (c *Consumer) wants(r Record) bool { return r.To == c.name || c.events && r.To == "" }

func (c *Consumer) poke() {
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// Wake returns a channel that has a token when there may be something new.
func (c *Consumer) Wake() <-chan struct{} { return c.wake }

// Name returns the consumer's name.
func (c *Consumer) Name() string { return c.name }

// Waiting returns the records that the consumer is not done with, oldest
// first, without those that have expired.
func (c *Consumer) Waiting(now time.Time) []Record {
	c.log.mu.Lock()
	defer c.log.mu.Unlock()
	var all []Record
	for i := range c.log.records {
		r := &c.log.records[i]
		if r.Seq <= c.at || r.Seq > c.log.shown || !c.wants(*r) {
			continue
		}
		if r.expired = r.expired || !r.Expires.IsZero() && !r.Expires.After(now); !r.expired {
			all = append(all, *r)
		}
	}
	return all
}

// Next returns the oldest record that the consumer is not done with.
func (c *Consumer) Next(now time.Time) (Record, bool) {
	all := c.Waiting(now)
	if len(all) == 0 {
		return Record{}, false
	}
	return all[0], true
}

// Done says that the consumer is done with everything up to a record, which it
// does not get again. An error says that the disk does not know so yet.
func (c *Consumer) Done(ctx context.Context, r Record) error {
	return c.log.Commit(ctx, Change{Moves: map[string]int64{c.name: r.Seq}})
}

// Lost counts the records that were dropped because too many waited.
func (c *Consumer) Lost() uint64 {
	c.log.mu.Lock()
	defer c.log.mu.Unlock()
	return c.lost
}
