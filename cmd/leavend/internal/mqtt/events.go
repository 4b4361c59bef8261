package mqtt

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"log/slog"
	"os"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// consumer is our name in the event log.
const consumer = "mqtt"

// memoryLog is an event log that ends with the process.
func memoryLog() (*event.Log, error) {
	l, err := event.OpenLog(context.Background(), nil)
	if err != nil {
		return nil, err
	}
	l.Events(consumer)
	return l, l.Begin(context.Background())
}

// loggedMessage is a message for the broker as it stands in the log.
type loggedMessage struct {
	Topic   string          `json:"topic"`
	Payload json.RawMessage `json:"payload"`
}

// commitLimit is how long an event may wait for the disk before it goes out
// all the same.
const commitLimit = 10 * time.Second

// eventSender sends what stands in the event log, in order, and at least once.
type eventSender struct {
	topics   Topics
	journal  *event.Log
	consumer *event.Consumer
	log      *slog.Logger
	lostMore func() // tells that more events were lost

	sent, lost atomic.Uint64
}

// add puts an event of the client's own into the log. What happens in the
// daemon comes from there by itself.
func (s *eventSender) add(e event.Event) {
	body := encode(loggedMessage{s.topics.Event(e.Subject), EventMessage(e)})
	ctx, end := context.WithTimeout(context.Background(), commitLimit)
	defer end()
	if err := s.journal.Commit(ctx, event.Change{Records: []event.Record{{To: consumer, Body: body}}}); err != nil {
		s.log.Debug("an event is in memory only", "err", err)
	}
}

// sendAll sends what waits in the log. The cursor moves on only when the broker
// has confirmed an event.
func (s *eventSender) sendAll(ctx context.Context, to *session) error {
	for r, more := s.consumer.Next(time.Now()); more; r, more = s.consumer.Next(time.Now()) {
		m, ok := s.message(r)
		if !ok {
			s.log.Error("an event of the log cannot be read and is not sent", "record", r.Seq)
		} else if err := to.send(ctx, m); err != nil {
			return err
		}
		s.done(r)
		if ok {
			s.sent.Add(1)
		}
	}
	s.countLost()
	return nil
}

// waits reports whether an event is to be sent.
func (s *eventSender) waits() bool {
	_, ok := s.consumer.Next(time.Now())
	return ok
}

// done moves our cursor behind a record, even while the process ends.
func (s *eventSender) done(r event.Record) {
	ctx, end := context.WithTimeout(context.Background(), commitLimit)
	defer end()
	if err := s.consumer.Done(ctx, r); err != nil {
		s.log.Debug("a sent event could not be marked yet", "err", err)
	}
}

// countLost says that events were lost, where more were.
func (s *eventSender) countLost() {
	lost := s.consumer.Lost()
	if before := s.lost.Swap(lost); lost == before {
		return
	} else if before == 0 {
		s.log.Error("too many events waited for the broker; the oldest are lost", "lost", lost)
	}
	s.lostMore()
}

// message returns what a record of the log says to the broker; false when it
// says nothing that can be understood.
func (s *eventSender) message(r event.Record) (message, bool) {
	if r.To == consumer {
		var l loggedMessage
		if json.Unmarshal(r.Body, &l) != nil || CheckTopic(l.Topic) != nil {
			return message{}, false
		}
		return message{topic: l.Topic, payload: l.Payload}, true
	}
	var e event.Event
	if json.Unmarshal(r.Body, &e) != nil || e.Kind == "" || CheckTopic(s.topics.Event(e.Subject)) != nil {
		return message{}, false
	}
	return message{topic: s.topics.Event(e.Subject), payload: EventMessage(e)}, true
}

// takeOver moves the events that an earlier release left in a file into the
// log, and removes the file. A line that cannot be read, as a power cut leaves
// one, is skipped.
func (s *eventSender) takeOver(ctx context.Context, file string) error {
	text, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("mqtt: events of before: %w", err)
	}
	var all []event.Record
	skipped := 0
	for raw := range bytes.Lines(text) {
		var l loggedMessage
		if json.Unmarshal(raw, &l) != nil || CheckTopic(l.Topic) != nil {
			skipped++
			continue
		}
		all = append(all, event.Record{To: consumer, Body: encode(l)})
	}
	if skipped > 0 {
		s.log.Warn("the file of waiting events has lines that cannot be read", "file", file, "lines", skipped)
	}
	if err := s.journal.Commit(ctx, event.Change{Records: all}); err != nil {
		return fmt.Errorf("mqtt: events of before: %w", err)
	}
	return os.Remove(file)
}

// eventID is the same for the same event told again, after a restart too, and
// differs between two events of one instant.
func eventID(e event.Event) string {
	text := fnv.New32a()
	text.Write([]byte(e.Text))
	return fmt.Sprintf("%s-%s-%d-%08x", e.Subject, e.Kind, e.At.UnixMilli(), text.Sum32())
}
