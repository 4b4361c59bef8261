package daemon

import (
	"context"
	"maps"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
)

// basisSpan is how much of the curve after a feed tells its starting height.
const basisSpan = 10 * time.Minute

// feedBasis is what the curve of a feed comes down to once its minutes are
// over, so that it need not be read again.
type feedBasis struct {
	AtMS     int64                     `json:"at_ms"` // the feed's hour when this was found out; a corrected hour makes it void
	HeightMM map[store.Channel]float64 `json:"height_mm,omitempty"`
	OnTopH   *float64                  `json:"on_top_h,omitempty"` // hours at the top
}

// basisBook remembers the basis of every feed, by vessel and the feed's ID. A
// year's curve asks for all of them, and would read hundreds of short windows
// after each start; so the store keeps the book as a state.
type basisBook struct {
	mu   sync.Mutex // guards what follows
	told map[string]map[int64]feedBasis
	new  map[string]bool // vessels with something that the store does not have
}

// of returns what is known of a feed.
func (b *basisBook) of(ctx context.Context, s *store.Store, f store.Feed) feedBasis {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.told == nil {
		b.told, b.new = map[string]map[int64]feedBasis{}, map[string]bool{}
	}
	if b.told[f.Vessel] == nil {
		known := map[int64]feedBasis{}
		if _, err := s.State(ctx, basisState(f.Vessel), &known); err != nil {
			known = map[int64]feedBasis{} // found out anew
		}
		b.told[f.Vessel] = known
	}
	if known := b.told[f.Vessel][f.ID]; known.AtMS == f.At.UnixMilli() {
		return known
	}
	return feedBasis{AtMS: f.At.UnixMilli()}
}

// note changes what is known of a feed that of was asked for.
func (b *basisBook) note(f store.Feed, known feedBasis) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.told[f.Vessel][f.ID], b.new[f.Vessel] = known, true
}

// keep has the store remember what was found out. It may fail, as on a full
// disk: then it is tried again with the next.
func (b *basisBook) keep(ctx context.Context, s *store.Store, vessel string) {
	b.mu.Lock()
	due := b.new[vessel]
	delete(b.new, vessel)
	known := maps.Clone(b.told[vessel])
	b.mu.Unlock()
	if !due {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	if err := s.SetState(ctx, basisState(vessel), known); err != nil {
		b.mu.Lock()
		b.new[vessel] = true
		b.mu.Unlock()
	}
}

func basisState(vessel string) string { return "basis/" + vessel }

// baseOf returns what the curve of a feed is counted from: the height after it,
// or without calibration the distance.
func (p *PageHouse) baseOf(ctx context.Context, f store.Feed, v *monitor.Vessel) (float64, bool) {
	if !v.Conf.Calibrated() {
		return p.heightAt(ctx, f, store.Surface)
	}
	h, ok := p.heightAt(ctx, f, store.Height)
	if !ok {
		if h, ok = p.heightAt(ctx, f, store.Surface); ok {
			h = v.Conf.FloorMM - h
		}
	}
	return h, ok
}

// heightAt returns the mean height in the first minutes after a feed, in the
// terms of channel; false when nothing was read then.
func (p *PageHouse) heightAt(ctx context.Context, f store.Feed, channel store.Channel) (float64, bool) {
	known := p.basis.of(ctx, p.D.Store, f)
	if h, ok := known.HeightMM[channel]; ok {
		return h, true
	}
	w, err := p.D.Store.Window(ctx, f.Vessel, f.At, f.At.Add(basisSpan), 1)
	if err != nil || len(w.Points) == 0 {
		return 0, false
	}
	s, ok := monitor.StatOf(w, w.Points[0], channel)
	if !ok && channel == store.Surface { // older than that channel
		s, ok = monitor.StatOf(w, w.Points[0], store.Distance)
	}
	if ok && p.D.Clock.Now().Sub(f.At) > basisSpan {
		heights := maps.Clone(known.HeightMM) // others may read the old one
		if heights == nil {
			heights = map[store.Channel]float64{}
		}
		heights[channel] = s.Mean
		known.HeightMM = heights
		p.basis.note(f, known)
	}
	return s.Mean, ok
}

// hoursOnTop is how long a feed stood at its top, NaN where that is not known
// or not over.
func (p *PageHouse) hoursOnTop(ctx context.Context, f store.Feed) float64 {
	if h := p.basis.of(ctx, p.D.Store, f).OnTopH; h != nil {
		return *h
	}
	c, err := p.courseOf(ctx, f)
	if err != nil {
		return math.NaN()
	}
	h, over := onTop(c)
	if !over {
		return math.NaN()
	}
	known := p.basis.of(ctx, p.D.Store, f) // with the height that the curve asked for
	known.OnTopH = &h
	p.basis.note(f, known)
	return h
}

// How often it is looked for feeds whose start is not known yet, and how many
// are looked up in a round, for each vessel: a board has other things to do.
const (
	basisEvery = 15 * time.Minute
	basisRound = 100
)

// learnBases finds out from what the curve of each feed is counted before
// somebody asks: the first year that is looked at would wait for all of them.
func (p *PageHouse) learnBases(ctx context.Context) error {
	tried := map[int64]int64{} // by the feed, for what hour of it
	p.D.Clock.Every(ctx, basisEvery, func(now time.Time) {
		for _, v := range p.D.Vessels {
			p.learnSome(ctx, v, now, tried)
		}
	})
	return nil
}

// learnSome looks up the latest of a vessel's feeds that are not known.
func (p *PageHouse) learnSome(ctx context.Context, v *monitor.Vessel, now time.Time, tried map[int64]int64) {
	slug := v.Conf.Slug
	feeds, err := p.D.Store.Feeds(ctx, store.Query{Vessel: slug})
	if err != nil {
		return // the next round tries again
	}
	looked := 0
	for _, f := range feeds { // newest first
		if looked == basisRound || ctx.Err() != nil {
			break
		}
		if tried[f.ID] == f.At.UnixMilli() || now.Sub(f.At) <= basisSpan {
			continue
		}
		tried[f.ID] = f.At.UnixMilli()
		if known := p.basis.of(ctx, p.D.Store, f); len(known.HeightMM) == 0 {
			p.baseOf(ctx, f, v)
			looked++
		}
	}
	p.basis.keep(ctx, p.D.Store, slug)
}
