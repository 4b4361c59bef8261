package backend

import (
	"context"
	"maps"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
)

// baselineSpan is how much of the curve after a feed tells its starting height.
const baselineSpan = 10 * time.Minute

// baseline is what the curve of a feed comes down to once its minutes are
// over, so that it need not be read again.
type baseline struct {
	AtMS     int64                     `json:"at_ms"` // the feed's hour when this was found out; a corrected hour makes it void
	HeightMM map[store.Channel]float64 `json:"height_mm,omitempty"`
	OnTopH   *float64                  `json:"on_top_h,omitempty"` // hours at the top
}

// baselineCache remembers the baseline of every feed, by vessel and the feed's ID.
// A year's curve asks for all of them, and would read hundreds of short windows
// after each start; so the store keeps the cache as a state.
type baselineCache struct {
	mu    sync.Mutex // guards what follows
	known map[string]map[int64]baseline
	dirty map[string]bool // vessels with something that the store does not have
}

// of returns what is known of a feed.
func (b *baselineCache) of(ctx context.Context, s *store.Store, f store.Feed) baseline {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.known == nil {
		b.known, b.dirty = map[string]map[int64]baseline{}, map[string]bool{}
	}
	if b.known[f.Vessel] == nil {
		known := map[int64]baseline{}
		if _, err := s.States.State(ctx, BaselineState(f.Vessel), &known); err != nil {
			known = map[int64]baseline{} // found out again
		}
		b.known[f.Vessel] = known
	}
	if known := b.known[f.Vessel][f.ID]; known.AtMS == f.At.UnixMilli() {
		return known
	}
	return baseline{AtMS: f.At.UnixMilli()}
}

// note changes what is known of a feed that of was asked for.
func (b *baselineCache) note(f store.Feed, known baseline) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.known[f.Vessel][f.ID], b.dirty[f.Vessel] = known, true
}

// keep has the store remember what was found out. It may fail, as on a full
// disk: then it is tried again with the next.
func (b *baselineCache) keep(ctx context.Context, s *store.Store, vessel string) {
	b.mu.Lock()
	due := b.dirty[vessel]
	delete(b.dirty, vessel)
	known := maps.Clone(b.known[vessel])
	b.mu.Unlock()
	if !due {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	if err := s.States.SetState(ctx, BaselineState(vessel), known); err != nil {
		b.mu.Lock()
		b.dirty[vessel] = true
		b.mu.Unlock()
	}
}

// BaselineState is the name under which the store keeps the baselines of a vessel.
func BaselineState(vessel string) string { return "basis/" + vessel }

// baseOf returns what the curve of a feed is counted from: the height after it,
// or without calibration the distance.
func (y *History) baseOf(ctx context.Context, f store.Feed, v *monitor.Vessel) (float64, bool) {
	if !v.Conf.Calibrated() {
		return y.heightAt(ctx, f, store.Surface)
	}
	h, ok := y.heightAt(ctx, f, store.Height)
	if !ok {
		if h, ok = y.heightAt(ctx, f, store.Surface); ok {
			h = v.Conf.FloorMM - h
		}
	}
	return h, ok
}

// heightAt returns the mean height in the first minutes after a feed, in the
// terms of channel; false when nothing was read then.
func (y *History) heightAt(ctx context.Context, f store.Feed, channel store.Channel) (float64, bool) {
	known := y.baselines.of(ctx, y.m.Store, f)
	if h, ok := known.HeightMM[channel]; ok {
		return h, true
	}
	w, err := y.m.Store.Readings.Window(ctx, f.Vessel, f.At, f.At.Add(baselineSpan), 1)
	if err != nil || len(w.Points) == 0 {
		return 0, false
	}
	s, ok := monitor.StatOf(w, w.Points[0], channel)
	if !ok && channel == store.Surface { // older than that channel
		s, ok = monitor.StatOf(w, w.Points[0], store.Distance)
	}
	if ok && y.m.Clock.Now().Sub(f.At) > baselineSpan {
		heights := maps.Clone(known.HeightMM) // others may read the old one
		if heights == nil {
			heights = map[store.Channel]float64{}
		}
		heights[channel] = s.Mean
		known.HeightMM = heights
		y.baselines.note(f, known)
	}
	return s.Mean, ok
}

// hoursOnTop is how long a feed stood at its peak, NaN where that is not known
// or not over.
func (y *History) hoursOnTop(ctx context.Context, f store.Feed) float64 {
	if h := y.baselines.of(ctx, y.m.Store, f).OnTopH; h != nil {
		return *h
	}
	course, err := y.courseOf(ctx, f)
	if err != nil {
		return math.NaN()
	}
	h, over := onTop(course)
	if !over {
		return math.NaN()
	}
	known := y.baselines.of(ctx, y.m.Store, f) // with the height that the curve asked for
	known.OnTopH = &h
	y.baselines.note(f, known)
	return h
}

// How often it is looked for feeds whose start is not known yet, and how many
// are looked up in a round, for each vessel: a board has other things to do.
const (
	baselineEvery   = 15 * time.Minute
	baselinesAtOnce = 100
)

// LearnBaselines finds out from what the curve of each feed is counted before
// somebody asks: the first year that is looked at would wait for all of them.
func (y *History) LearnBaselines(ctx context.Context) error {
	tried := map[int64]int64{} // by the feed, for what hour of it
	y.m.Clock.Every(ctx, baselineEvery, func(now time.Time) {
		for _, v := range y.m.Vessels {
			y.learnSome(ctx, v, now, tried)
		}
	})
	return nil
}

// learnSome looks up the latest of a vessel's feeds that are not known.
func (y *History) learnSome(ctx context.Context, v *monitor.Vessel, now time.Time, tried map[int64]int64) {
	slug := v.Conf.Slug
	feeds, err := y.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug})
	if err != nil {
		return // the next round tries again
	}
	looked := 0
	for _, f := range feeds { // newest first
		if looked == baselinesAtOnce || ctx.Err() != nil {
			break
		}
		if tried[f.ID] == f.At.UnixMilli() || now.Sub(f.At) <= baselineSpan {
			continue
		}
		tried[f.ID] = f.At.UnixMilli()
		if known := y.baselines.of(ctx, y.m.Store, f); len(known.HeightMM) == 0 {
			y.baseOf(ctx, f, v)
			looked++
		}
	}
	y.baselines.keep(ctx, y.m.Store, slug)
}
