package store

import (
	"context"
	"fmt"
	"iter"
	"time"
)

// ReadingsSince streams a vessel's readings at full rate from since on, in
// the order they were taken, with what is not yet committed. A broken part of
// the file ends it with an error. Memory does not grow with their number.
func (s *Readings) ReadingsSince(ctx context.Context, vessel string, since time.Time) iter.Seq2[Reading, error] {
	return s.ReadingsBetween(ctx, vessel, since, time.UnixMilli(1<<52))
}

// ReadingsBetween is [Readings.ReadingsSince] with an end, which is exclusive.
func (s *Readings) ReadingsBetween(ctx context.Context, vessel string, from, to time.Time) iter.Seq2[Reading, error] {
	return s.readings(ctx, vessel, func(c clockRow) (int64, int64, bool) {
		return from.UnixMilli() - c.shift, to.UnixMilli() - c.shift, true
	})
}

// ReadingsSinceFeed streams the readings that were taken after a feed. Unlike
// ReadingsSince it goes by the order of things and not by the wall clock, so
// that a clock that jumped between the two loses nothing. It is what the
// detector is rebuilt from after a restart.
func (s *Readings) ReadingsSinceFeed(ctx context.Context, feed Feed) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		var clock, t int64
		err := s.r.QueryRowContext(ctx, `SELECT clock, t FROM entry WHERE id = ?`, feed.ID).Scan(&clock, &t)
		if err != nil {
			yield(Reading{}, fmt.Errorf("store: feed %d: %w", feed.ID, missing(err)))
			return
		}
		after := s.readings(ctx, feed.Vessel, func(c clockRow) (int64, int64, bool) {
			switch {
			case c.id == clock:
				return t, 1 << 62, true
			case c.live && c.id > clock:
				return -1 << 62, 1 << 62, true
			}
			return 0, 0, false
		})
		after(yield)
	}
}

// readings streams from each clock, in order, the range that span gives for
// it.
func (s *Readings) readings(ctx context.Context, vessel string, span func(clockRow) (from, to int64, ok bool)) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		v, err := s.look(ctx, vessel)
		if err != nil {
			yield(Reading{}, err)
			return
		}
		defer v.close()
		more := true
		for _, c := range v.clocks {
			from, to, ok := span(c)
			if !ok {
				continue
			}
			err := blockSamples(ctx, v.tx, v.vessel, c.id, from, to, func(s sample) bool {
				more = yield(Reading{vessel, v.channelName(s.channel), c.wall(s.t), value(s.v)}, nil)
				return more
			})
			if !more {
				return
			}
			if err != nil {
				yield(Reading{}, fmt.Errorf("store: readings of %s: %w", vessel, err))
				return
			}
		}
		from, to, ok := span(v.running)
		for _, a := range v.waiting {
			if !ok || a.t < from || a.t >= to {
				continue
			}
			if !yield(Reading{vessel, a.channel, v.running.wall(a.t), value(a.v)}, nil) {
				return
			}
		}
	}
}
