package store

import (
	"context"
	"database/sql"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// pageKey names a stored page.
type pageKey struct {
	level         int
	vessel, clock int64
	start         int64
}

// openKey names the one page a vessel has open at a level. It is always of
// the running clock.
type openKey struct {
	level  int
	vessel int64
}

// merge adds samples to the pages they belong to: a copy of the open one, or
// one read from the file.
func (w *writing) merge(ctx context.Context, tx *sql.Tx, vessel int64, samples []sample) error {
	for level, l := range levels {
		for _, s := range samples {
			key := pageKey{level, vessel, w.clock, floor(s.t, l.span)}
			p, err := w.page(ctx, tx, key)
			if err != nil {
				return err
			}
			p.add(s.t, l.width, stat{s.channel, 1, s.v, s.v, s.v})
		}
	}
	return nil
}

// page returns the page of a key, ready to be changed.
func (w *writing) page(ctx context.Context, tx *sql.Tx, key pageKey) (*page, error) {
	if p := w.pages[key]; p != nil {
		return p, nil
	}
	open := w.s.open[openKey{key.level, key.vessel}]
	if w.live && open != nil && open.start == key.start {
		w.pages[key] = open.clone()
		return w.pages[key], nil
	}
	var data []byte
	err := tx.QueryRowContext(ctx, `SELECT data FROM rollup WHERE vessel = ? AND level = ? AND clock = ? AND t = ?`,
		key.vessel, key.level, key.clock, key.start).Scan(&data)
	if err != nil && err != sql.ErrNoRows {
		return nil, err
	}
	// A page that cannot be read to its end keeps what could be: a reading must
	// not wait for it for ever.
	p, _ := readPage(key.start, levels[key.level], data)
	w.pages[key] = p
	return p, nil
}

// put writes all touched pages but the newest of each vessel and level, which
// stays open; one that was open before and no longer is, is written too.
func (w *writing) put(ctx context.Context, tx *sql.Tx) error {
	if w.live {
		w.reopen()
		w.retire()
	}
	for key, p := range w.pages {
		if w.open[openKey{key.level, key.vessel}] == p {
			continue
		}
		_, err := tx.ExecContext(ctx, `
			INSERT INTO rollup (level, vessel, clock, t, data) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (vessel, level, clock, t) DO UPDATE SET data = excluded.data`,
			key.level, key.vessel, key.clock, key.start, p.encode(levels[key.level].width))
		if err != nil {
			return err
		}
	}
	return nil
}

// reopen finds which page is open at each touched level after this batch.
func (w *writing) reopen() {
	w.open = map[openKey]*page{}
	for key, p := range w.pages {
		at := openKey{key.level, key.vessel}
		if newest := w.open[at]; newest == nil || p.start > newest.start {
			w.open[at] = p
		}
	}
	for at, p := range w.open {
		before := w.s.open[at]
		if before == nil || before.start == p.start {
			continue
		}
		key := pageKey{at.level, at.vessel, w.clock, before.start}
		switch {
		case before.start > p.start:
			w.open[at] = before // only late readings came
		case w.pages[key] == nil:
			w.pages[key] = before
		}
	}
}

// retire writes pages that were left open because their vessel had no more
// readings: it stands empty, or was taken out of the configuration.
func (w *writing) retire() {
	w.s.mu.Lock()
	now := w.s.line.now()
	w.s.mu.Unlock()
	for at, p := range w.s.open {
		if w.open[at] == nil && p.start+levels[at.level].span+hourMS < now {
			w.pages[pageKey{at.level, at.vessel, w.clock, p.start}] = p
			w.closed = append(w.closed, at)
		}
	}
}

// rebuild works out again, from the blocks, the pages that were still open
// when the last process ended. Those of former boots are written now, since
// nothing will come to them any more; those of this boot stay open.
//
// With repair set it also fills in pages that are missing further back.
func (s *Readings) rebuild(ctx context.Context, repair bool) error {
	unsettled, err := dbfile.Column[int64](ctx, s.w, `SELECT id FROM clock WHERE live AND NOT settled ORDER BY zero + shift, id`)
	if err != nil {
		return err
	}
	for _, clock := range unsettled {
		if err := s.rebuildClock(ctx, clock, repair); err != nil {
			return err
		}
	}
	return nil
}

func (s *Readings) rebuildClock(ctx context.Context, clock int64, repair bool) error {
	running := clock == s.line.row.id
	w := newWriting(s, clock, running)
	err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) error {
		for n, vessel := range s.names {
			if n.channel != "" {
				continue
			}
			if err := w.rebuildVessel(ctx, tx, vessel, repair); err != nil {
				return err
			}
		}
		if err := w.put(ctx, tx); err != nil || running {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE clock SET settled = 1 WHERE id = ?`, clock)
		return err
	})
	if err != nil {
		return err
	}
	w.settle()
	return nil
}

// rebuildVessel merges every sample that lies behind the last written page of
// a level. Pages are written in order and in the same transaction as the
// reading that ended them, so what lies behind is exactly what is missing.
func (w *writing) rebuildVessel(ctx context.Context, tx *sql.Tx, vessel int64, repair bool) error {
	var gaps [len(levels)]gap
	oldest := int64(1 << 62)
	for level := range levels {
		g, err := findGap(ctx, tx, vessel, w.clock, level, repair)
		if err != nil {
			return err
		}
		gaps[level] = g
		oldest = min(oldest, g.from)
	}
	return blockSamples(ctx, tx, vessel, w.clock, oldest, 1<<62, func(s sample) bool {
		for level, l := range levels {
			key := pageKey{level, vessel, w.clock, floor(s.t, l.span)}
			if s.t < gaps[level].from || gaps[level].have[key.start] {
				continue
			}
			if w.pages[key] == nil {
				w.pages[key] = &page{start: key.start}
			}
			w.pages[key].add(s.t, l.width, stat{s.channel, 1, s.v, s.v, s.v})
		}
		return true
	})
}

// gap says which pages of a level are to be worked out: those from a time on,
// but for those there are.
type gap struct {
	from int64
	have map[int64]bool
}

func findGap(ctx context.Context, tx *sql.Tx, vessel, clock int64, level int, repair bool) (gap, error) {
	limit := 1
	if repair {
		limit = -1
	}
	g := gap{from: -1 << 61, have: map[int64]bool{}}
	pages, err := dbfile.Column[int64](ctx, tx, `SELECT t FROM rollup WHERE vessel = ? AND level = ? AND clock = ? ORDER BY t DESC LIMIT ?`,
		vessel, level, clock, limit)
	for _, t := range pages {
		g.have[t] = true
		if !repair {
			g.from = t + levels[level].span
		}
	}
	return g, err
}

// blockSamples hands each stored sample with from <= t < to to yield, block
// after block, until it returns false. A block that cannot be read is passed
// over as far as it is broken.
func blockSamples(ctx context.Context, q dbfile.Querier, vessel, clock, from, to int64, yield func(sample) bool) error {
	rows, err := q.QueryContext(ctx, `SELECT t, data FROM block WHERE clock = ? AND t >= ? AND t < ? AND vessel = ? ORDER BY t, id`,
		clock, from-maxBlockMS, to, vessel)
	if err != nil {
		return err
	}
	defer rows.Close()
	more := true
	var data sql.RawBytes
	for more && rows.Next() {
		var t0 int64
		if rows.Scan(&t0, &data) != nil {
			continue // a bit of the row has changed; Verify tells
		}
		decodeBlock(t0, data, func(s sample) bool {
			if s.t >= from && s.t < to {
				more = yield(s)
			}
			return more
		})
	}
	return rows.Err()
}
