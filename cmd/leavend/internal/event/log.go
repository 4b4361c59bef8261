package event

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"sync"
)

// The bounds of what the log holds in memory. A week brings some 200 records.
const (
	recordsKept = 4096
	entriesKept = 1000
)

// Log carries what must not be lost to those who pass it on: each [Consumer]
// gets the records in order and at least once, also after a restart. It lives
// in memory and is mirrored on a disk, so that a disk that is full or does not
// answer delays what it keeps and holds up no delivery.
type Log struct {
	disk   Disk          // nil keeps all in memory
	saving chan struct{} // holds one token: whose turn it is to write to the disk

	mu        sync.Mutex // guards what follows
	consumers map[string]*Consumer
	stored    map[string]int64 // cursors of the run before
	records   []Record         // that somebody is not done with, oldest first
	seq       int64            // of the last record
	shown     int64            // records up to here are given to consumers
	number    int64            // of the last change that was given to the disk
	next      Saved            // is not with the disk yet
	trying    *Saved           // was given to the disk, which has not confirmed it
	begun     bool             // all consumers are registered
}

// OpenLog returns the log that disk holds; without one it begins empty. A log
// that cannot be read gives an error beside a log that works.
func OpenLog(ctx context.Context, disk Disk) (*Log, error) {
	l := &Log{disk: disk, saving: make(chan struct{}, 1), consumers: map[string]*Consumer{}}
	l.saving <- struct{}{}
	if disk == nil {
		return l, nil
	}
	held, err := disk.LoadLog(ctx)
	l.records, l.seq, l.shown, l.number, l.stored = held.Records, held.Seq, held.Seq, held.Number, held.Cursors
	if err != nil {
		return l, fmt.Errorf("event log: %w", err)
	}
	return l, nil
}

// Commit makes a change. Consumers see it once it is on the disk, or once ctx
// ends or the disk refuses it; then it stays in memory, is tried again with
// each later Commit and [Log.Retry], and the error says so.
func (l *Log) Commit(ctx context.Context, c Change) error {
	state := make(map[string]json.RawMessage, len(c.State))
	for name, v := range c.State {
		text, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("event log: state %s: %w", name, err)
		}
		state[name] = text
	}
	seq := l.enter(c, state)
	err := l.Retry(ctx)
	l.show(seq)
	return err
}

// enter takes a change into memory and returns the place of its last record.
func (l *Log) enter(c Change, state map[string]json.RawMessage) int64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	for name, seq := range c.Moves {
		if consumer := l.consumers[name]; consumer != nil {
			consumer.at = max(consumer.at, seq)
		}
	}
	for _, r := range c.Records {
		l.seq++
		r.Seq = l.seq
		l.records = append(l.records, r)
		l.next.Records = append(l.next.Records, r)
	}
	l.next.Journal = append(l.next.Journal, c.Journal...)
	if over := len(l.next.Journal) - entriesKept; over > 0 {
		l.next.Journal = slices.Delete(l.next.Journal, 0, over)
	}
	l.next.State = merged(l.next.State, state)
	l.next.Moves = merged(l.next.Moves, c.Moves)
	l.prune()
	return l.seq
}

func merged[V any](into, from map[string]V) map[string]V {
	if into == nil {
		into = map[string]V{}
	}
	maps.Copy(into, from)
	return into
}

// prune takes out what every consumer is done with, and the oldest records
// beyond the bound. The caller holds mu.
func (l *Log) prune() {
	if !l.begun {
		return // a consumer that is not registered yet may want it
	}
	over := len(l.records) - recordsKept
	kept := make([]Record, 0, len(l.records))
	for i, r := range l.records {
		wanted := l.wanted(r)
		if len(wanted) > 0 && i >= over {
			kept = append(kept, r)
			continue
		}
		for _, c := range wanted {
			c.lost++
		}
		l.next.Done = append(l.next.Done, r.Seq)
	}
	if len(kept) == len(l.records) {
		return
	}
	l.records = kept
	// A record that went before the disk had it need not go there.
	gone := func(r Record) bool { return slices.Contains(l.next.Done, r.Seq) }
	l.next.Records = slices.DeleteFunc(l.next.Records, gone)
}

// wanted returns the consumers that are not done with a record. The caller
// holds mu.
func (l *Log) wanted(r Record) []*Consumer {
	var all []*Consumer
	if r.expired {
		return nil
	}
	for _, c := range l.consumers {
		if c.wants(r) && r.Seq > c.at {
			all = append(all, c)
		}
	}
	return all
}

// Retry gives to the disk what it does not have yet. It returns when that is
// done, refused, or when ctx ends; a write under way then goes on.
func (l *Log) Retry(ctx context.Context) error {
	l.mu.Lock()
	if l.disk == nil {
		l.next = Saved{}
	}
	idle := l.trying == nil && l.next.empty()
	l.mu.Unlock()
	if idle {
		return nil
	}
	select {
	case <-l.saving:
	case <-ctx.Done():
		return fmt.Errorf("event log: %w", ctx.Err())
	}
	done := make(chan error, 1)
	go func() {
		defer func() { l.saving <- struct{}{} }()
		done <- l.save(ctx)
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return fmt.Errorf("event log: %w", ctx.Err())
	}
}

// save writes until the disk has everything. The caller has the token.
func (l *Log) save(ctx context.Context) error {
	for {
		change := l.begin()
		if change == nil {
			return nil
		}
		if err := l.disk.SaveLog(ctx, *change); err != nil {
			return fmt.Errorf("event log: %w", err)
		}
		l.mu.Lock()
		l.trying = nil
		l.mu.Unlock()
	}
}

// begin returns the change to write now: one that was not confirmed, which may
// be on the disk all the same and goes there under its number, or what came
// since. It returns nil when there is none.
func (l *Log) begin() *Saved {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.trying == nil && !l.next.empty() {
		l.number++
		next := l.next
		next.Number = l.number
		l.trying, l.next = &next, Saved{}
	}
	return l.trying
}

// show gives the records up to seq to the consumers.
func (l *Log) show(seq int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.shown = max(l.shown, seq)
	for _, c := range l.consumers {
		c.poke()
	}
}

// Begin ends the registration of consumers: what waits for others, of whom the
// configuration knows no more, is dropped.
func (l *Log) Begin(ctx context.Context) error {
	l.mu.Lock()
	for name := range l.stored {
		if l.consumers[name] == nil {
			l.next.Gone = append(l.next.Gone, name)
		}
	}
	l.begun = true
	l.prune()
	l.mu.Unlock()
	return l.Retry(ctx)
}
