package store

import (
	"context"
	"database/sql"
	"errors"
	"leavend/cmd/leavend/internal/store/dbfile"
	"math"
	"time"
)

// Sample is one stored number. MeanOf is of how many readings it is the mean,
// where the full rate was thinned already; else 0.
type Sample struct {
	At      time.Time
	Channel Channel
	Value   float64
	MeanOf  int64
}

// Samples hands each stored number of a vessel from from to to (exclusive) to
// each, clock after clock, and within a clock in the order of time. It ends at
// the first error.
func (s *Readings) Samples(ctx context.Context, vessel string, from, to time.Time, each func(Sample) error) error {
	v, err := s.look(ctx, vessel)
	if err != nil {
		return err
	}
	defer v.close()
	x := &walker{view: v, from: from.UnixMilli(), to: to.UnixMilli(), each: func(c Channel, at int64, v float64, mean int64) error {
		return each(Sample{time.UnixMilli(at).UTC(), c, v, mean})
	}}
	return x.walk(ctx)
}

// walker goes over what is stored of a vessel.
type walker struct {
	view     *view
	from, to int64 // ms since 1970
	each     func(c Channel, at int64, v float64, mean int64) error
}

// walk takes clock after clock: first the minutes of what was thinned, then the
// readings at full rate, then what is not yet committed.
func (x *walker) walk(ctx context.Context) error {
	for _, c := range x.view.clocks {
		kept, err := x.minutes(ctx, c)
		if err != nil {
			return err
		}
		var failed error
		err = blockSamples(ctx, x.view.tx, x.view.vessel, c.id, max(kept, x.from-c.shift), x.to-c.shift, func(s sample) bool {
			failed = x.each(x.view.channelName(s.channel), s.t+c.shift, value(s.v), 0)
			return failed == nil
		})
		if err := errors.Join(err, failed); err != nil {
			return err
		}
	}
	for _, a := range x.view.waiting {
		at := a.t + x.view.running.shift
		if at < x.from || at >= x.to {
			continue
		}
		if err := x.each(a.channel, at, value(a.v), 0); err != nil {
			return err
		}
	}
	return nil
}

// minutes takes the minutes before the first block of a clock, and returns
// the time up to which it did.
func (x *walker) minutes(ctx context.Context, c clockRow) (int64, error) {
	kept := int64(math.MaxInt64)
	err := x.view.tx.QueryRowContext(ctx, `SELECT ifnull(min(t), ?) FROM block WHERE clock = ? AND vessel = ?`,
		int64(1<<61), c.id, x.view.vessel).Scan(&kept)
	if err != nil {
		return 0, err
	}
	l := levels[0]
	kept = floor(kept, l.span) // pages from here on are in the blocks, too
	return kept, dbfile.Each(ctx, x.view.tx, func(row *sql.Rows) error {
		var start int64
		var data []byte
		if row.Scan(&start, &data) != nil {
			return nil // a bit of the row has changed; Verify tells
		}
		var failed error
		decodePage(start, l, data, func(t int64, stats []stat) {
			at := t + c.shift
			for _, s := range stats {
				if at >= x.from && at < x.to && failed == nil {
					failed = x.each(x.view.channelName(s.channel), at, value(s.sum)/float64(s.n), s.n)
				}
			}
		})
		return failed
	}, `SELECT t, data FROM rollup WHERE vessel = ? AND level = 0 AND clock = ? AND t >= ? AND t < ? ORDER BY t`,
		x.view.vessel, c.id, x.from-c.shift-l.span, min(kept, x.to-c.shift))
}
