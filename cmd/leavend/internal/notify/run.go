package notify

import (
	"context"
	"encoding/json"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Run takes in events and sends what is due until ctx ends.
func (n *Notifier) Run(ctx context.Context) error {
	var sends sync.WaitGroup
	defer sends.Wait()
	for {
		for ctx.Err() == nil && n.follow(ctx) {
		}
		n.tick(ctx)
		n.delivery.dispatch(ctx, &sends)
		wait := time.NewTimer(n.o.Look)
		select {
		case <-ctx.Done():
			wait.Stop()
			n.followLast()
			return nil
		case <-n.wake:
			wait.Stop()
		case <-n.events.Wake():
			wait.Stop()
		case <-wait.C:
		}
	}
}

// followLast takes in what was told while the daemon ended.
func (n *Notifier) followLast() {
	ctx, end := context.WithTimeout(context.Background(), 10*time.Second)
	defer end()
	for n.follow(ctx) {
	}
}

// follow takes in the next event of the log; false when there is none.
func (n *Notifier) follow(ctx context.Context) bool {
	r, ok := n.events.Next(n.o.Now())
	if !ok {
		return false
	}
	var e event.Event
	err := json.Unmarshal(r.Body, &e)
	if err != nil {
		n.o.Log.Error("an event of the log cannot be read, and no message is sent", "record", r.Seq, "err", err)
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if err == nil && n.o.Read != nil {
		if h, told := n.o.Read(e); told {
			n.rules.apply(h)
		}
	}
	if err := n.save(ctx, map[string]int64{consumer: r.Seq}); err != nil && ctx.Err() == nil {
		n.o.Log.Error("an event was not stored", "err", err)
	}
	return true
}

// tick does what only the time calls for.
func (n *Notifier) tick(ctx context.Context) {
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.o.Now()
	n.rules.closeIncidents(now)
	n.rules.repeat(now)
	if err := n.save(ctx, nil); err != nil && ctx.Err() == nil {
		n.o.Log.Debug("what was told could not be stored", "err", err) // storage has a fault of its own
	}
}
