package store

import (
	"context"
	"database/sql"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"slices"
)

// view is one consistent look at a vessel: what is in the file and, matching
// it to the reading, what is still in memory.
type view struct {
	conn     *sql.Conn
	tx       *sql.Tx
	vessel   int64             // 0 if the file does not know it yet
	channels map[int64]Channel // of this vessel
	clocks   []clockRow        // in the order they began
	running  clockRow
	waiting  []arrival // of this vessel, not yet in the file, in order of arrival
	open     []*page   // by level; nil where none is open
}

// look takes a view. It waits for a commit in progress, never longer. The
// caller closes it.
func (s *Readings) look(ctx context.Context, vessel string) (*view, error) {
	// The connection comes first: waiting for one must not hold up writers.
	conn, err := s.r.Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("store: read %s: %w", vessel, err)
	}
	v := &view{conn: conn, channels: map[int64]Channel{}, open: make([]*page, len(levels))}
	if err := s.fill(ctx, v, vessel); err != nil {
		v.close()
		return nil, fmt.Errorf("store: read %s: %w", vessel, err)
	}
	return v, nil
}

// fill reads into v what belongs together: it has the turn to write, so that
// no other writer does meanwhile.
func (s *Readings) fill(ctx context.Context, v *view, vessel string) (err error) {
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	if v.tx, err = v.conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}); err != nil {
		return err
	}
	if err := v.load(ctx, vessel); err != nil {
		return err
	}
	for level := range levels {
		if p := s.open[openKey{level, v.vessel}]; p != nil {
			v.open[level] = p.clone()
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	v.running = s.line.row
	for _, a := range s.buf {
		if a.vessel == vessel {
			v.waiting = append(v.waiting, a)
		}
	}
	return nil
}

func (v *view) close() {
	if v.tx != nil {
		v.tx.Rollback()
	}
	v.conn.Close()
}

func (v *view) load(ctx context.Context, vessel string) error {
	var err error
	if v.clocks, err = clocks(ctx, v.tx); err != nil {
		return err
	}
	err = v.tx.QueryRowContext(ctx, `SELECT id FROM vessel WHERE name = ?`, vessel).Scan(&v.vessel)
	if err == sql.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	return dbfile.Each(ctx, v.tx, func(row *sql.Rows) error {
		var id int64
		var name Channel
		err := row.Scan(&id, &name)
		v.channels[id] = name
		return err
	}, `SELECT number, name FROM channel WHERE vessel = ?`, v.vessel)
}

// Vessels returns the names of all vessels that ever had a reading, sorted.
func (s *Readings) Vessels(ctx context.Context) ([]string, error) {
	names, err := dbfile.Column[string](ctx, s.r, `SELECT name FROM vessel`)
	if err != nil {
		return nil, fmt.Errorf("store: read vessels: %w", err)
	}
	slices.Sort(names)
	return names, nil
}

// Channels returns the channels that a vessel ever had, sorted.
func (s *Readings) Channels(ctx context.Context, vessel string) ([]Channel, error) {
	names, err := dbfile.Column[Channel](ctx, s.r, `SELECT c.name FROM channel c JOIN vessel v ON v.id = c.vessel WHERE v.name = ? ORDER BY c.name`, vessel)
	if err != nil {
		return nil, fmt.Errorf("store: read channels of %s: %w", vessel, err)
	}
	return names, nil
}
