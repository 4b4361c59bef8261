package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"maps"
	"slices"
	"time"
)

// kickAt is how many new readings wake Run before its minute is over. In
// normal running it is not reached; a simulation at high speed reaches it.
const kickAt = 4096

// Readings keeps what sensors measured: a buffer of what came lately, blocks at
// full rate, and rollups.
type Readings struct {
	*file
	kick chan struct{} // wakes Run when much has come

	// Guarded by file.mu.
	buf   []arrival
	fresh int // arrivals since the last kick

	// These belong to whoever holds the token of turn.
	names map[name]int64 // ids of vessels and numbers of channels
	open  map[openKey]*page

	blockMS int64 // the longest a block may be; tests make it a minute, as in normal running
}

// Add takes a reading to be stored with the next commit. It never blocks on
// the disk and never fails: when the buffer is full its oldest reading gives
// way, and is counted.
func (s *Readings) Add(r Reading) {
	v, ok := quantise(r.Value)
	s.mu.Lock()
	defer s.mu.Unlock()
	if !ok || r.Vessel == "" || r.Channel == "" || s.opts.ReadOnly {
		s.stats.Refused++
		return
	}
	if len(s.buf) >= s.opts.Buffer {
		s.buf = s.buf[1:]
		s.stats.Dropped++
	}
	s.buf = append(s.buf, arrival{r.Vessel, r.Channel, s.line.place(r.At), v})
	if s.fresh++; s.fresh >= kickAt {
		s.fresh = 0
		select {
		case s.kick <- struct{}{}:
		default:
		}
	}
}

// Run commits readings once a minute and thins old ones once a day, until
// ctx ends; then it commits what is left. Its error is always nil: storage
// that fails is told by [Store.Stats] and does not stop the daemon.
func (s *Store) Run(ctx context.Context) error {
	flush := time.NewTicker(s.file.opts.Flush)
	defer flush.Stop()
	thin := time.NewTimer(5 * time.Minute) // not at start, which is busy enough
	defer thin.Stop()
	for {
		select {
		case <-ctx.Done():
			last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
			defer cancel()
			s.Readings.Flush(last)
			return nil
		case <-flush.C:
			s.Readings.Flush(ctx)
		case <-s.Readings.kick:
			s.Readings.Flush(ctx)
		case <-thin.C:
			s.Readings.Thin(ctx)
			s.checkReadings(ctx) // what it finds is in Stats
			s.noteHead(ctx)
			thin.Reset(24 * time.Hour)
		}
	}
}

// Flush commits the readings in memory now. The error is also kept in Stats.
func (s *Readings) Flush(ctx context.Context) error {
	if s.opts.ReadOnly {
		return ErrReadOnly
	}
	stepErr := s.checkClock(ctx)
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	s.mu.Lock()
	batch := slices.Clone(s.buf)
	gone := s.stats.Dropped
	s.mu.Unlock()

	var err error
	if len(batch) > 0 {
		err = s.commit(ctx, batch)
	}

	s.mu.Lock()
	defer s.mu.Unlock()
	if err == nil {
		s.stats.Commit = s.line.clock.Now()
		s.stats.Written += len(batch)
		// While the batch was written the buffer may have dropped some of it.
		left := max(0, len(batch)-(s.stats.Dropped-gone))
		s.buf = append(make([]arrival, 0, len(s.buf)), s.buf[left:]...)
	}
	s.stats.Failed++
	// A clock step that was not taken over is tried again with the next flush.
	if s.stats.Failure = errors.Join(stepErr, err); s.stats.Failure == nil {
		s.stats.Failed = 0
	}
	return s.stats.Failure
}

// commit writes a batch of arrivals on the running clock. The caller has the
// turn. Nothing in memory changes unless the commit succeeds.
func (s *Readings) commit(ctx context.Context, batch []arrival) error {
	s.mu.Lock()
	clock := s.line.row.id
	s.mu.Unlock()
	if s.removed() {
		return fmt.Errorf("store: commit readings: %w", ErrRemoved)
	}
	w := newWriting(s, clock, true)
	err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) error { return w.write(ctx, tx, batch) })
	if err != nil {
		return fmt.Errorf("store: commit readings: %w", err)
	}
	w.settle()
	return nil
}

// writing is one transaction of readings and what is to be remembered of it
// once it is committed.
type writing struct {
	s      *Readings
	clock  int64
	live   bool // its newest pages stay open in memory
	names  map[name]int64
	pages  map[pageKey]*page // touched
	open   map[openKey]*page // what is open after the commit
	closed []openKey         // what no longer is
}

func newWriting(s *Readings, clock int64, live bool) *writing {
	return &writing{s: s, clock: clock, live: live, names: map[name]int64{}, pages: map[pageKey]*page{}}
}

// write stores the batch as blocks and merges it into the rollups.
func (w *writing) write(ctx context.Context, tx *sql.Tx, batch []arrival) error {
	byVessel := map[int64][]sample{}
	for _, a := range batch {
		vessel, err := w.vessel(ctx, tx, a.vessel)
		if err != nil {
			return err
		}
		channel, err := w.channel(ctx, tx, vessel, a)
		if err != nil {
			return err
		}
		byVessel[vessel] = append(byVessel[vessel], sample{channel, a.t, a.v})
	}
	for vessel, samples := range byVessel {
		slices.SortStableFunc(samples, func(a, b sample) int { return cmp.Compare(a.t, b.t) })
		if err := w.blocks(ctx, tx, vessel, samples); err != nil {
			return err
		}
		if err := w.merge(ctx, tx, vessel, samples); err != nil {
			return err
		}
	}
	return w.put(ctx, tx)
}

// blocks writes samples as rows of at most blockMS.
func (w *writing) blocks(ctx context.Context, tx *sql.Tx, vessel int64, samples []sample) error {
	for len(samples) > 0 {
		t0, n := samples[0].t, 1
		for n < len(samples) && samples[n].t-t0 < w.s.blockMS {
			n++
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO block (vessel, clock, t, last, n, data) VALUES (?, ?, ?, ?, ?, ?)`,
			vessel, w.clock, t0, samples[n-1].t, n, encodeBlock(t0, samples[:n]))
		if err != nil {
			return err
		}
		samples = samples[n:]
	}
	return nil
}

// settle takes over into memory what is now in the file.
func (w *writing) settle() {
	maps.Copy(w.s.names, w.names)
	for _, key := range w.closed {
		delete(w.s.open, key)
	}
	for key, p := range w.open {
		w.s.open[key] = p
	}
}
