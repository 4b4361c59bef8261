package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Message is a notification that waits to be sent, or was. The outbox hands
// out each recipient's messages one at a time and in order, until they are
// sent, expired or given up: at least once, never out of turn.
type Message struct {
	ID        int64
	Recipient string          // the notifier's name for where it goes
	Kind      string          // "peak", "fault" ...
	Vessel    string          // may be empty
	Text      string          // what a person reads
	Body      json.RawMessage // the notifier's own, JSON; may be nil
	Event     time.Time       // when what it tells of happened
	Expires   time.Time       // not worth sending after this; zero: never
	Attempts  int             // failed ones
	NextTry   time.Time       // not before this
	Done      time.Time       // when it was sent, expired or given up; zero while it waits
	Outcome   string          // OutcomeSent and so on; while it waits, the last error
}

// How a message ends.
const (
	OutcomeSent    = "sent"
	OutcomeExpired = "expired"
	OutcomeGivenUp = "given up"
)

// Enqueue puts messages into the outbox, all or none. They are on the disk
// when it returns; their IDs are returned.
func (s *Store) Enqueue(ctx context.Context, messages ...Message) ([]int64, error) {
	var ids []int64
	err := s.urgent(ctx, func(tx *sql.Tx) error {
		for _, m := range messages {
			if m.Recipient == "" {
				return errors.New("a message has no recipient")
			}
			if m.Body == nil {
				m.Body = json.RawMessage("null")
			}
			res, err := tx.ExecContext(ctx, `INSERT INTO outbox (recipient, kind, vessel, text, body, event, expires, next_try)
				VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
				m.Recipient, m.Kind, m.Vessel, m.Text, string(m.Body), ms(m.Event), ms(m.Expires), ms(m.NextTry))
			if err != nil {
				return err
			}
			id, err := res.LastInsertId()
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("store: enqueue: %w", err)
	}
	return ids, nil
}

// Due returns the message that each recipient is to get next, where its time
// has come. Messages that expired are put away first.
func (s *Store) Due(ctx context.Context, now time.Time) ([]Message, error) {
	if err := s.expire(ctx, now); err != nil {
		return nil, err
	}
	return s.messages(ctx, `WHERE id IN (SELECT min(id) FROM outbox WHERE done = 0 GROUP BY recipient)
		AND next_try <= ? ORDER BY id`, now.UnixMilli())
}

// expire ends the messages that nobody would want any more. It looks first,
// since nearly always there are none and a write would cost the disk a flush.
func (s *Store) expire(ctx context.Context, now time.Time) error {
	const old = `done = 0 AND expires > 0 AND expires <= ?`
	var n int
	err := s.r.QueryRowContext(ctx, `SELECT count(*) FROM outbox WHERE `+old, now.UnixMilli()).Scan(&n)
	if err == nil && n > 0 {
		err = s.urgent(ctx, func(tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, `UPDATE outbox SET done = ?, outcome = ? WHERE `+old,
				now.UnixMilli(), OutcomeExpired, now.UnixMilli())
			return err
		})
	}
	if err != nil {
		return fmt.Errorf("store: expire messages: %w", err)
	}
	return nil
}

// Sent stores that a message has gone out.
func (s *Store) Sent(ctx context.Context, id int64, at time.Time) error {
	return s.endMessage(ctx, id, at, OutcomeSent)
}

// GiveUp stores that a message will not be sent.
func (s *Store) GiveUp(ctx context.Context, id int64, at time.Time) error {
	return s.endMessage(ctx, id, at, OutcomeGivenUp)
}

func (s *Store) endMessage(ctx context.Context, id int64, at time.Time, outcome string) error {
	return s.changeMessage(ctx, id, `UPDATE outbox SET done = ?, outcome = ? WHERE id = ? AND done = 0`, ms(at), outcome, id)
}

// Failed stores that sending failed, why, and when to try again. The
// recipient's later messages wait.
func (s *Store) Failed(ctx context.Context, id int64, why string, next time.Time) error {
	return s.changeMessage(ctx, id, `UPDATE outbox SET attempts = attempts + 1, outcome = ?, next_try = ? WHERE id = ? AND done = 0`,
		why, ms(next), id)
}

func (s *Store) changeMessage(ctx context.Context, id int64, query string, args ...any) error {
	err := s.urgent(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, query, args...)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return errors.Join(ErrNotFound, err)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("store: message %d: %w", id, err)
	}
	return nil
}

// NextTry returns when the first waiting message may be tried, and false if
// none waits.
func (s *Store) NextTry(ctx context.Context) (time.Time, bool, error) {
	var at sql.NullInt64
	err := s.r.QueryRowContext(ctx, `SELECT min(next_try) FROM outbox
		WHERE id IN (SELECT min(id) FROM outbox WHERE done = 0 GROUP BY recipient)`).Scan(&at)
	if err != nil {
		return time.Time{}, false, fmt.Errorf("store: next message: %w", err)
	}
	return time.UnixMilli(at.Int64), at.Valid, nil
}

// Messages returns the newest messages, waiting or done, newest first.
func (s *Store) Messages(ctx context.Context, limit int) ([]Message, error) {
	return s.messages(ctx, `ORDER BY id DESC LIMIT ?`, limit)
}

func (s *Store) messages(ctx context.Context, where string, args ...any) ([]Message, error) {
	rows, err := s.r.QueryContext(ctx, `SELECT id, recipient, kind, vessel, text, body, event, expires, attempts, next_try, done, outcome
		FROM outbox `+where, args...)
	if err != nil {
		return nil, fmt.Errorf("store: read outbox: %w", err)
	}
	defer rows.Close()
	var all []Message
	for rows.Next() {
		var m Message
		var body string
		var event, expires, next, done int64
		err := rows.Scan(&m.ID, &m.Recipient, &m.Kind, &m.Vessel, &m.Text, &body, &event, &expires, &m.Attempts, &next, &done, &m.Outcome)
		if err != nil {
			return nil, err
		}
		m.Body = json.RawMessage(body)
		m.Event, m.Expires, m.NextTry, m.Done = moment(event), moment(expires), moment(next), moment(done)
		all = append(all, m)
	}
	return all, rows.Err()
}

// ms and moment turn times into ms since 1970 and back; zero stays zero.
func ms(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

func moment(ms int64) time.Time {
	if ms == 0 {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}
