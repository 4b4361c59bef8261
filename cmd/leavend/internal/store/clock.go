package store

import (
	"context"
	"database/sql"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"time"
)

// Clock is what the store knows about time. The daemon uses [SystemClock]; a
// simulation and a test bring their own.
type Clock interface {
	Now() time.Time        // the wall clock
	Uptime() time.Duration // since boot, never stepping
	Boot() string          // names this boot; a new boot has a new name
	Synced() bool          // whether the wall clock is known to be right
}

// SteadyClock makes a clock from a wall clock that never steps, such as a
// simulated one. boot must be new for each run.
func SteadyClock(now func() time.Time, boot string) Clock {
	return steadyClock{now: now, began: now(), boot: boot}
}

type steadyClock struct {
	now   func() time.Time
	began time.Time
	boot  string
}

func (c steadyClock) Now() time.Time        { return c.now() }
func (c steadyClock) Uptime() time.Duration { return c.now().Sub(c.began) }
func (c steadyClock) Boot() string          { return c.boot }
func (c steadyClock) Synced() bool          { return true }

// A step of the wall clock is a jump by more than this. Smaller ones are the
// slow corrections of time keeping and are left alone.
const stepMS = 2000

// A new boot whose clock stands before the last stored reading by less than
// this cannot be right; without a better clock it is taken to follow on.
const followMS = 2 * dayMS

// clockRow is one boot, or one imported recording, as it is stored. Wall time
// in ms is t + shift.
type clockRow struct {
	id     int64
	zero   int64 // t at boot
	shift  int64
	synced bool
	live   bool // a boot, not an import
}

func (c clockRow) wall(t int64) time.Time { return time.UnixMilli(t + c.shift).UTC() }

// timeline is the running boot's clock. Its fields are guarded by Store.mu.
type timeline struct {
	clock Clock
	row   clockRow
	doubt int64 // the last jump that was not believed, ms
}

// place returns t for a moment. A moment with a monotonic part, or one not
// long ago, is placed by the time gone since then, so that a jump between
// then and now does not matter; any other by the wall clock as believed now.
func (l *timeline) place(at time.Time) int64 {
	ago := l.clock.Now().Sub(at)
	if at != at.Round(0) || (ago > -time.Minute && ago < time.Minute) {
		return l.row.zero + (l.clock.Uptime() - ago).Milliseconds()
	}
	return at.UnixMilli() - l.row.shift
}

// now returns t of this moment.
func (l *timeline) now() int64 { return l.row.zero + l.clock.Uptime().Milliseconds() }

// jump compares the wall clock with the time line. It returns the new shift
// and true when the wall clock jumped and the jump is to be believed.
func (l *timeline) jump() (shift int64, synced, ok bool) {
	synced = l.clock.Synced()
	shift = l.clock.Now().UnixMilli() - l.now()
	by := shift - l.row.shift
	if by > -stepMS && by < stepMS {
		l.doubt = 0
		return l.row.shift, synced, synced && !l.row.synced
	}
	if !synced && l.row.synced {
		l.doubt = by
		return l.row.shift, false, false
	}
	l.doubt = 0
	return shift, synced, true
}

// startClock finds the running boot's row or makes one.
func (s *file) startClock(ctx context.Context, c Clock) error {
	l := timeline{clock: c}
	err := s.w.QueryRowContext(ctx, `SELECT id, zero, shift, synced FROM clock WHERE boot = ?`, c.Boot()).
		Scan(&l.row.id, &l.row.zero, &l.row.shift, &l.row.synced)
	l.row.live = true
	if err == nil {
		s.line = l
		return s.checkClock(ctx)
	}
	if err != sql.ErrNoRows {
		return fmt.Errorf("store: find clock: %w", err)
	}
	l.row.zero = c.Now().UnixMilli() - c.Uptime().Milliseconds()
	l.row.synced = c.Synced()
	if l.row.shift, err = s.follow(ctx, l); err != nil {
		return err
	}
	res, err := s.w.ExecContext(ctx, `INSERT INTO clock (boot, zero, shift, synced, live) VALUES (?, ?, ?, ?, 1)`,
		c.Boot(), l.row.zero, l.row.shift, l.row.synced)
	if err != nil {
		return fmt.Errorf("store: new clock: %w", dbfile.Full(err))
	}
	l.row.id, err = res.LastInsertId()
	s.line = l
	return err
}

// follow returns the shift a new boot starts with: 0, unless its wall clock
// stands before what is stored already and nothing says that it is right.
func (s *file) follow(ctx context.Context, l timeline) (int64, error) {
	var last sql.NullInt64
	var synced sql.NullBool
	err := s.w.QueryRowContext(ctx, `
		SELECT c.shift + max((SELECT ifnull(max(last), c.zero) FROM block WHERE clock = c.id),
		                     (SELECT ifnull(max(t), c.zero) FROM entry WHERE clock = c.id)), c.synced
		FROM clock c WHERE c.live ORDER BY c.id DESC LIMIT 1`).Scan(&last, &synced)
	if err == sql.ErrNoRows {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("store: find last clock: %w", err)
	}
	behind := last.Int64 - l.now()
	if l.row.synced || behind <= 0 || (!synced.Bool && behind > followMS) {
		return 0, nil
	}
	return behind + 1000, nil
}

// checkClock looks for a jump of the wall clock and takes it over.
func (s *file) checkClock(ctx context.Context) error {
	if s.opts.ReadOnly {
		return ErrReadOnly
	}
	s.mu.Lock()
	shift, synced, ok := s.line.jump()
	row, now := s.line.row, s.line.now()
	s.mu.Unlock()
	if !ok {
		return nil
	}
	err := s.urgent(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE clock SET shift = ?, synced = ? WHERE id = ?`, shift, synced, row.id)
		if err != nil || shift == row.shift {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO clock_step (clock, t, shift_before, shift, synced) VALUES (?, ?, ?, ?, ?)`,
			row.id, now, row.shift, shift, synced)
		return err
	})
	if err != nil {
		return fmt.Errorf("store: take over clock step: %w", err)
	}
	s.mu.Lock()
	s.line.row.shift, s.line.row.synced = shift, synced
	s.mu.Unlock()
	return nil
}

// clocks returns all clocks in the order they began, as believed now.
func clocks(ctx context.Context, q dbfile.Querier) ([]clockRow, error) {
	var all []clockRow
	err := dbfile.Each(ctx, q, func(row *sql.Rows) error {
		var c clockRow
		err := row.Scan(&c.id, &c.zero, &c.shift, &c.synced, &c.live)
		all = append(all, c)
		return err
	}, `SELECT id, zero, shift, synced, live FROM clock ORDER BY zero + shift, id`)
	if err != nil {
		return nil, fmt.Errorf("store: read clocks: %w", err)
	}
	return all, nil
}
