package main

import (
	"context"
	"time"
)

// backlog holds what could not be stored, as on a full disk, until it can: an
// event that is told and not stored would be told again after the next start.
// Only the goroutine that keeps uses it.
type backlog struct {
	owed []owed
}

// owed is one write that failed.
type owed struct {
	what  string
	write func(context.Context) error
}

// backlogBound is how many writes may wait: more than a bad week brings.
const backlogBound = 1000

// try writes at once, or puts the write off; the error is the first try's.
func (b *backlog) try(ctx context.Context, w owed) error {
	err := w.write(ctx)
	if err == nil {
		return nil
	}
	if len(b.owed) == backlogBound {
		b.owed = b.owed[1:]
	}
	b.owed = append(b.owed, w)
	return err
}

// pay tries what waits, in its order, and stops at the first that still fails;
// that one goes behind the others, should it be the only one.
func (b *backlog) pay(ctx context.Context) {
	for n := len(b.owed); n > 0; n-- {
		w := b.owed[0]
		if err := w.write(ctx); err != nil {
			b.owed = append(b.owed[1:], w)
			return
		}
		b.owed = b.owed[1:]
	}
}

// keep stores what the hub tells.
func (d *daemon) keep(it item) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	d.backlog.pay(ctx)
	if it.Status != nil {
		d.keepSample(*it.Status)
		return
	}
	for _, w := range d.writesOf(*it.Event) {
		if err := d.backlog.try(ctx, w); err != nil {
			d.log.Error(w.what+" could not be stored; it is tried again", "kind", it.Event.Kind, "subject", it.Event.Subject, "err", err)
		}
	}
}
