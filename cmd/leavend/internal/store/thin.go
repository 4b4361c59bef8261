package store

import (
	"context"
	"database/sql"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// Thin removes readings at full rate that are older than Opts.FullRate; their
// rollups stay. It works in small steps, so that it never holds up a commit for
// long. The room is used again by new readings: the file does not shrink.
func (s *Readings) Thin(ctx context.Context) error {
	if s.opts.ReadOnly {
		return ErrReadOnly
	}
	all, err := clocks(ctx, s.r)
	if err != nil {
		return err
	}
	before := s.now().Add(-s.opts.FullRate).UnixMilli()
	for _, c := range all {
		for more := true; more; {
			if more, err = s.thinSome(ctx, c.id, before-c.shift); err != nil {
				return fmt.Errorf("store: thin: %w", err)
			}
		}
	}
	return nil
}

// thinSome removes up to 1,000 blocks of a clock and reports whether more may
// be left. Only what stands in a written page goes, which matters to a store
// whose clock ran on without readings.
func (s *Readings) thinSome(ctx context.Context, clock, before int64) (bool, error) {
	if err := s.take(ctx); err != nil {
		return false, err
	}
	defer s.give()
	before = min(before, s.oldestOpen(clock))
	var n int64
	err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `DELETE FROM block WHERE id IN
			(SELECT id FROM block WHERE clock = ? AND t < ? AND last < ? ORDER BY t LIMIT 1000)`, clock, before, before)
		if err != nil {
			return err
		}
		n, err = res.RowsAffected()
		return err
	})
	return n == 1000, err
}

// oldestOpen is the start of the oldest page that still lives in memory only.
// The caller has the turn.
func (s *Readings) oldestOpen(clock int64) int64 {
	oldest := int64(1 << 62)
	s.mu.Lock()
	running := s.line.row.id
	s.mu.Unlock()
	if clock != running {
		return oldest
	}
	for _, p := range s.open {
		oldest = min(oldest, p.start)
	}
	return oldest
}
