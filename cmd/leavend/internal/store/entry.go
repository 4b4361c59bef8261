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

// The kinds of journal entries. They are stored: never change one.
const (
	kindFeed     = "feed"
	kindEvent    = "event"
	kindForecast = "forecast"
	kindBake     = "bake"
	kindCurve    = "curve"
	kindDiscard  = "discard"
	kindStarter  = "starter"
)

// Journal keeps what happened and what the baker noted: feeds, new starters,
// discard, events, forecasts and curves. What is taken back stays in the file.
type Journal struct{ *file }

// record is a kind of entry: its fields that are columns, the rest being the body.
type record[T any] interface {
	*T
	row() row
}

// row is what stands beside an entry's body.
type row struct {
	kind   string
	id     *int64
	vessel *string
	at     *time.Time
}

// body returns an entry without what its row says already.
func body[T any, R record[T]](e T) T {
	r := R(&e).row()
	*r.id, *r.vessel, *r.at = 0, "", time.Time{}
	return e
}

// entryOf is an entry as the event log hands it to the journal.
func entryOf[T any, R record[T]](e T) event.Entry {
	r := R(&e).row()
	return event.Entry{Kind: r.kind, Vessel: *r.vessel, At: *r.at, Body: body[T, R](e)}
}

// add stores a new entry and returns it with its id; it is on the disk then.
func add[T any, R record[T]](ctx context.Context, s *Journal, e T) (T, error) {
	r := R(&e).row()
	id, err := s.addEntry(ctx, r.kind, *r.vessel, *r.at, body[T, R](e))
	*r.id = id
	return e, err
}

// correct replaces what is stored of an entry, and keeps what it was. A zero time
// leaves its time as it is.
func correct[T any, R record[T]](ctx context.Context, s *Journal, e T) error {
	r := R(&e).row()
	return s.reviseEntry(ctx, r.kind, *r.id, func([]byte) (any, time.Time, bool, error) {
		return body[T, R](e), *r.at, false, nil
	})
}

// entries returns the entries of a kind, newest first, removed ones left out.
func entries[T any, R record[T]](ctx context.Context, s *Journal, q Query) (all []T, err error) {
	kind := R(new(T)).row().kind
	err = s.eachEntry(ctx, kind, q, func(id int64, vessel string, at time.Time, text []byte) error {
		var e T
		if err := json.Unmarshal(text, &e); err != nil {
			return err
		}
		r := R(&e).row()
		*r.id, *r.vessel, *r.at = id, vessel, at
		all = append(all, e)
		return nil
	})
	return all, err
}

// addEntry stores a new entry; on the disk when it returns.
func (s *Journal) addEntry(ctx context.Context, kind, vessel string, at time.Time, body any) (int64, error) {
	var id int64
	// A jump of the wall clock that is not noticed yet would put an entry of
	// some minutes ago in the wrong place.
	err := s.checkClock(ctx)
	if err != nil {
		return 0, err
	}
	err = s.urgent(ctx, func(tx *sql.Tx) (err error) {
		id, err = s.insertEntry(ctx, tx, kind, vessel, at, body)
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("store: add %s: %w", kind, err)
	}
	return id, nil
}

func (s *Journal) insertEntry(ctx context.Context, tx *sql.Tx, kind, vessel string, at time.Time, body any) (int64, error) {
	if at.IsZero() {
		return 0, errors.New("it has no time")
	}
	if err := s.notAhead(at); err != nil {
		return 0, err
	}
	text, err := json.Marshal(body)
	if err != nil {
		return 0, err
	}
	clock, t, err := s.placeEntry(ctx, tx, at)
	if err != nil {
		return 0, err
	}
	res, err := tx.ExecContext(ctx, `INSERT INTO entry (kind, vessel, clock, t, body) VALUES (?, ?, ?, ?, ?)`,
		kind, vessel, clock, t, string(text))
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

// placeEntry finds the clock that ran at a moment, and t on it. A moment
// before the first boot counts on the running clock.
func (s *file) placeEntry(ctx context.Context, q dbfile.Querier, at time.Time) (clock, t int64, err error) {
	s.mu.Lock()
	clock, t = s.line.row.id, s.line.place(at)
	zero := s.line.row.zero
	s.mu.Unlock()
	if t >= zero {
		return clock, t, nil
	}
	var id, shift int64
	err = q.QueryRowContext(ctx, `SELECT id, shift FROM clock WHERE live AND zero + shift <= ? ORDER BY zero + shift DESC LIMIT 1`,
		at.UnixMilli()).Scan(&id, &shift)
	if err == sql.ErrNoRows {
		return clock, t, nil
	}
	return id, at.UnixMilli() - shift, err
}

// reviseEntry changes an entry and keeps what it was. change gets the old
// body and returns the new one, a new time (zero: as before), and whether the
// entry is removed.
func (s *Journal) reviseEntry(ctx context.Context, kind string, id int64, change func(old []byte) (body any, at time.Time, removed bool, err error)) error {
	err := s.urgent(ctx, func(tx *sql.Tx) error {
		var old string
		var clock, t int64
		err := tx.QueryRowContext(ctx, `SELECT body, clock, t FROM entry WHERE id = ? AND kind = ?`, id, kind).Scan(&old, &clock, &t)
		if err != nil {
			return missing(err)
		}
		body, at, removed, err := change([]byte(old))
		if err != nil {
			return err
		}
		text, err := json.Marshal(body)
		if err != nil {
			return err
		}
		if !at.IsZero() {
			if err := s.notAhead(at); err != nil {
				return err
			}
			if clock, t, err = s.placeEntry(ctx, tx, at); err != nil {
				return err
			}
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO revision (entry, made, clock, t, body, removed)
			SELECT id, ?, clock, t, body, removed FROM entry WHERE id = ?`, s.now().UnixMilli(), id)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `UPDATE entry SET body = ?, clock = ?, t = ?, removed = ? WHERE id = ?`,
			string(text), clock, t, removed, id)
		return err
	})
	if err != nil {
		return fmt.Errorf("store: change %s %d: %w", kind, id, err)
	}
	return nil
}

// hide takes an entry back, or puts it back; it stays in the file.
func (s *Journal) hide(ctx context.Context, kind string, id int64, removed bool) error {
	return s.reviseEntry(ctx, kind, id, func(old []byte) (any, time.Time, bool, error) {
		return json.RawMessage(old), time.Time{}, removed, nil
	})
}

// badRow counts a row that could not be read.
func (s *file) badRow(b BadRow) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stats.BadRows++
	s.stats.BadRow = b
}

// notAhead refuses what is dated later than [event.Ahead] from now.
func (s *file) notAhead(at time.Time) error {
	if now := s.lineNow(); at.After(now.Add(event.Ahead)) {
		return fmt.Errorf("it is dated %s, and now it is %s: %w", at.Format(time.RFC3339), now.Format(time.RFC3339), ErrFuture)
	}
	return nil
}

// lineNow is now on the time line of the store, which goes on where it was when
// a board without a clock chip starts in 1970.
func (s *file) lineNow() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.line.clock == nil { // opened for reading only
		return s.opts.Clock.Now()
	}
	if wall := s.line.clock.Now(); wall.After(s.line.row.wall(s.line.now())) {
		return wall // it was set, and the next write takes that over
	}
	return s.line.row.wall(s.line.now())
}

// now is the wall clock, as the store is told it.
func (s *file) now() time.Time { return s.opts.Clock.Now() }

// missing turns "no rows" into ErrNotFound.
func missing(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	return err
}

// Query chooses journal entries. The zero value means all, newest first.
type Query struct {
	Vessel string    // all if empty
	From   time.Time // inclusive; no bound if zero
	To     time.Time // exclusive; no bound if zero
	Limit  int       // the newest so many; no bound if 0
}

// eachEntry hands the entries of a kind to read, newest first, removed ones left
// out. One that went bad since the start is passed over; the next start sets it
// aside.
func (s *Journal) eachEntry(ctx context.Context, kind string, q Query, read func(id int64, vessel string, at time.Time, body []byte) error) error {
	from, to, limit := int64(-1<<62), int64(1<<62), -1
	if !q.From.IsZero() {
		from = q.From.UnixMilli()
	}
	if !q.To.IsZero() {
		to = q.To.UnixMilli()
	}
	if q.Limit > 0 {
		limit = q.Limit
	}
	err := dbfile.Each(ctx, s.r, func(row *sql.Rows) error {
		var id, ms int64
		var vessel string
		var body []byte
		err := row.Scan(&id, &vessel, &ms, &body)
		if err == nil {
			err = read(id, vessel, time.UnixMilli(ms).UTC(), body)
		}
		if err != nil {
			s.badRow(BadRow{Table: "entry", ID: id, Why: err})
		}
		return nil
	}, `SELECT e.id, e.vessel, e.t + c.shift AS at, e.body FROM entry e JOIN clock c ON c.id = e.clock
		WHERE e.kind = ? AND (? = '' OR e.vessel = ?) AND NOT e.removed AND at >= ? AND at < ?
		ORDER BY at DESC, e.id DESC LIMIT ?`, kind, q.Vessel, q.Vessel, from, to, limit)
	if err != nil {
		return fmt.Errorf("store: read %ss: %w", kind, err)
	}
	return nil
}
