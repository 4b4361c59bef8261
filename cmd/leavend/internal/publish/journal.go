package publish

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"time"
)

// keepAfter is how long an event may wait for the broker before it is written
// to disk. While there is a broker, events are gone before that and the card
// is not written at all; a process that is killed can lose what is younger.
const keepAfter = 200 * time.Millisecond

// tooLong is the size at which the journal is written anew, in bytes.
const tooLong = 4 << 20

// journal keeps the waiting events on disk, one JSON line each. A line that
// the broker has confirmed stays until the outbox is empty, so an event can be
// sent twice after a crash, and none is lost.
type journal struct {
	path string
	log  *slog.Logger
	kept uint64 // the last event that is written
	size int64
	bad  bool // the last write failed; it is logged once
}

// line is an event in the journal.
type line struct {
	Topic   string          `json:"topic"`
	Payload json.RawMessage `json:"payload"`
}

// recall puts the events that an earlier process left into the queue. A line
// that cannot be read, as a power cut leaves one, is skipped.
func (j *journal) recall(q *queue) error {
	text, err := os.ReadFile(j.path)
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("publish: journal: %w", err)
	}
	j.size = int64(len(text))
	skipped := 0
	for raw := range bytes.Lines(text) {
		var l line
		if json.Unmarshal(raw, &l) != nil || CheckTopic(l.Topic) != nil {
			skipped++
			continue
		}
		j.kept = q.event(message{topic: l.Topic, payload: l.Payload})
	}
	if skipped > 0 {
		j.log.Warn("the journal of events has lines that cannot be read", "file", j.path, "lines", skipped)
	}
	return nil
}

// run keeps the journal until ctx ends, and then once more.
func (j *journal) run(ctx context.Context, q *queue) {
	for {
		select {
		case <-q.keep:
			pause(ctx, keepAfter)
			j.sync(q)
		case <-ctx.Done():
			j.sync(q)
			return
		}
	}
}

// sync brings the file up to the queue.
func (j *journal) sync(q *queue) {
	err := j.write(q)
	if err != nil && !j.bad {
		j.log.Error("waiting events are not kept on disk; a restart would lose them", "err", err)
	}
	j.bad = err != nil
}

func (j *journal) write(q *queue) error {
	if j.size > tooLong {
		j.kept = 0
	}
	events, waiting := q.eventsAfter(j.kept)
	switch {
	case waiting == 0 && j.size == 0:
		return nil
	case waiting == 0:
		j.size = 0
		return j.put(nil, os.O_TRUNC)
	case len(events) == 0:
		return nil
	}
	var text bytes.Buffer
	for _, m := range events {
		text.Write(encode(line{m.topic, m.payload}))
		text.WriteByte('\n')
	}
	how := os.O_APPEND
	if j.size > tooLong {
		how = os.O_TRUNC
	}
	if err := j.put(text.Bytes(), how); err != nil {
		return err
	}
	j.kept = events[len(events)-1].seq
	return nil
}

// put writes to the file and to the disk below it.
func (j *journal) put(text []byte, how int) error {
	f, err := os.OpenFile(j.path, os.O_WRONLY|os.O_CREATE|how, 0o600)
	if err != nil {
		return fmt.Errorf("publish: journal: %w", err)
	}
	defer f.Close()
	if _, err := f.Write(text); err != nil {
		return fmt.Errorf("publish: journal: %w", err)
	}
	if err := f.Sync(); err != nil {
		return fmt.Errorf("publish: journal: %w", err)
	}
	if j.size, err = f.Seek(0, io.SeekEnd); err != nil {
		return fmt.Errorf("publish: journal: %w", err)
	}
	return f.Close()
}
