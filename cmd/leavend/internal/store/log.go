package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// EventLog keeps the event log; it is an [event.Disk].
type EventLog struct {
	*file
	readings *Readings
	journal  *Journal
	kept     *States
}

// LoadLog reads the event log.
func (s *EventLog) LoadLog(ctx context.Context) (event.Contents, error) {
	c := event.Contents{Cursors: map[string]int64{}}
	err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) error {
		// Without its head the log goes on with a number that none before had.
		c.Number = s.now().UnixMilli()
		err := tx.QueryRowContext(ctx, `SELECT number, seq FROM log_head`).Scan(&c.Number, &c.Seq)
		if err == sql.ErrNoRows {
			c.Number = 0
		}
		if c.Records, err = s.loadRecords(ctx, tx); err != nil {
			return err
		}
		// A head that was lost must not give places again.
		for _, r := range c.Records {
			c.Seq = max(c.Seq, r.Seq)
		}
		return loadCursors(ctx, tx, &c)
	})
	if err != nil {
		return c, fmt.Errorf("store: read the event log: %w", err)
	}
	return c, nil
}

func (s *EventLog) loadRecords(ctx context.Context, q dbfile.Querier) (all []event.Record, err error) {
	err = dbfile.Each(ctx, q, func(row *sql.Rows) error {
		var r event.Record
		var expires int64
		if err := row.Scan(&r.Seq, &r.To, &expires, (*[]byte)(&r.Body)); err != nil {
			s.badRow(BadRow{Table: "log", ID: r.Seq, Why: err})
			return nil
		}
		if expires != 0 {
			r.Expires = time.UnixMilli(expires).UTC()
		}
		all = append(all, r)
		return nil
	}, `SELECT id, consumer, expires, body FROM log ORDER BY id`)
	return all, err
}

func loadCursors(ctx context.Context, q dbfile.Querier, c *event.Contents) error {
	return dbfile.Each(ctx, q, func(row *sql.Rows) error {
		var name string
		var seq int64
		if row.Scan(&name, &seq) == nil { // else its consumer begins with what comes
			c.Cursors[name] = seq
			c.Seq = max(c.Seq, seq)
		}
		return nil
	}, `SELECT consumer, seq FROM log_cursor`)
}

// SaveLog writes a change of the event log and what the journal keeps of it,
// and flushes the disk. The readings that an event was found in go first:
// after a kill the detector would otherwise find it a second time.
func (s *EventLog) SaveLog(ctx context.Context, c event.Saved) error {
	if len(c.Journal) > 0 {
		if err := s.readings.Flush(ctx); err != nil {
			return err
		}
	}
	ids := make([]int64, len(c.Journal))
	skipped := make([]error, len(c.Journal))
	fresh := false
	err := s.urgent(ctx, func(tx *sql.Tx) (err error) {
		if fresh, err = takeNumber(ctx, tx, c); err != nil || !fresh {
			return err
		}
		for i, e := range c.Journal {
			if ids[i], skipped[i], err = s.saveEntry(ctx, tx, e); err != nil {
				return err
			}
		}
		return s.saveLog(ctx, tx, c)
	})
	if err != nil {
		return fmt.Errorf("store: event log: %w", err)
	}
	for i, e := range c.Journal {
		if fresh && e.Stored != nil && skipped[i] == nil {
			e.Stored(ids[i])
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, err := range skipped {
		if err != nil {
			s.stats.Unstorable++
			s.stats.Unstored = err
		}
	}
	return nil
}

// takeNumber reports whether a change is new.
func takeNumber(ctx context.Context, tx *sql.Tx, c event.Saved) (bool, error) {
	var seq int64
	for _, r := range c.Records {
		seq = max(seq, r.Seq)
	}
	res, err := tx.ExecContext(ctx, `INSERT INTO log_head (id, number, seq) VALUES (1, ?, ?)
		ON CONFLICT (id) DO UPDATE SET number = excluded.number, seq = max(seq, excluded.seq) WHERE number < excluded.number`, c.Number, seq)
	if err != nil {
		return false, err
	}
	n, err := res.RowsAffected()
	return n > 0, err
}

// saveEntry adds one entry. One that can never be stored, such as one without
// a time, is skipped; the rest of the change must not wait for it.
func (s *EventLog) saveEntry(ctx context.Context, tx *sql.Tx, e event.Entry) (id int64, skip, err error) {
	if e.At.IsZero() {
		return 0, fmt.Errorf("%s of %s has no time", e.Kind, e.Vessel), nil
	}
	if _, err := json.Marshal(e.Body); err != nil {
		return 0, fmt.Errorf("%s of %s: %w", e.Kind, e.Vessel, err), nil
	}
	id, err = s.journal.insertEntry(ctx, tx, e.Kind, e.Vessel, e.At, e.Body)
	if errors.Is(err, ErrFuture) {
		return 0, err, nil
	}
	return id, nil, err
}

func (s *EventLog) saveLog(ctx context.Context, tx *sql.Tx, c event.Saved) error {
	run := func(query string, args ...any) error {
		_, err := tx.ExecContext(ctx, query, args...)
		return err
	}
	for _, r := range c.Records {
		var expires int64
		if !r.Expires.IsZero() {
			expires = r.Expires.UnixMilli()
		}
		if err := run(`INSERT INTO log (id, consumer, expires, body) VALUES (?, ?, ?, ?)`, r.Seq, r.To, expires, string(r.Body)); err != nil {
			return err
		}
	}
	for name, text := range c.State {
		if err := s.kept.put(ctx, tx, statePrefix+name, string(text)); err != nil {
			return err
		}
	}
	for name, seq := range c.Moves {
		err := run(`INSERT INTO log_cursor (consumer, seq) VALUES (?, ?) ON CONFLICT (consumer) DO UPDATE SET seq = max(seq, excluded.seq)`, name, seq)
		if err != nil {
			return err
		}
	}
	for _, name := range c.Gone {
		if err := run(`DELETE FROM log_cursor WHERE consumer = ?`, name); err != nil {
			return err
		}
	}
	for _, seq := range c.Done {
		if err := run(`DELETE FROM log WHERE id = ?`, seq); err != nil {
			return err
		}
	}
	return nil
}
