package store

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Where a feed comes from.
const (
	Marked = "marked" // somebody said so
	Found  = "found"  // read from the curve
)

// Flour is one kind of flour in a feed.
type Flour struct {
	Kind  string  `json:"kind"`
	Grams float64 `json:"grams"`
}

// Feed is one feed of a starter. A weight of 0 is unknown.
type Feed struct {
	ID         int64     `json:"id,omitempty"`
	Vessel     string    `json:"vessel,omitempty"`
	At         time.Time `json:"at,omitzero"`
	Source     string    `json:"source"`
	KeptG      float64   `json:"kept_g,omitempty"` // ripe starter left in the jar or put into a new one
	Flours     []Flour   `json:"flours,omitempty"`
	WaterG     float64   `json:"water_g,omitempty"`
	DiscardG   float64   `json:"discard_g,omitempty"`    // taken out into the discard jar
	WaterTempC *float64  `json:"water_temp_c,omitempty"` // nil: unknown
	CleanJar   bool      `json:"clean_jar,omitempty"`
	From       string    `json:"from,omitempty"`      // of a levain: the jar that the starter was taken from, which goes on
	ChilledH   float64   `json:"chilled_h,omitempty"` // hours in the fridge since the feed before
	Note       string    `json:"note,omitempty"`
}

// FlourG is the weight of all flour together.
func (f Feed) FlourG() float64 {
	var sum float64
	for _, fl := range f.Flours {
		sum += fl.Grams
	}
	return sum
}

// check refuses what no baker can mean.
func (f Feed) check() error {
	if f.Vessel == "" {
		return errors.New("it names no vessel")
	}
	if f.From != "" && f.From == f.Vessel {
		return errors.New("a levain built from its own jar is a feed of it; leave out where it comes from")
	}
	if f.Source != Marked && f.Source != Found {
		return fmt.Errorf("its source is %q; it must be %q or %q", f.Source, Marked, Found)
	}
	weights := map[string]float64{"kept_g": f.KeptG, "water_g": f.WaterG, "discard_g": f.DiscardG}
	for _, fl := range f.Flours {
		weights["flour "+fl.Kind] = fl.Grams
	}
	for name, g := range weights {
		if !(g >= 0 && g <= 1e5) {
			return fmt.Errorf("%s is %g; it must be between 0 and 100,000 g", name, g)
		}
	}
	if !(f.ChilledH >= 0 && f.ChilledH <= 1e5) {
		return fmt.Errorf("chilled_h is %g; it must be between 0 and 100,000 hours", f.ChilledH)
	}
	if t := f.WaterTempC; t != nil && !(*t >= -5 && *t <= 100) || t != nil && math.IsNaN(*t) {
		return fmt.Errorf("water_temp_c is %g; it must be between -5 and 100", *t)
	}
	return nil
}

// AddFeed stores a feed and returns it with its ID. When it returns without
// error the feed is on the disk.
func (s *Journal) AddFeed(ctx context.Context, f Feed) (Feed, error) {
	if f.Source == "" {
		f.Source = Marked
	}
	if err := f.check(); err != nil {
		return f, fmt.Errorf("store: add feed: %w", err)
	}
	return add(ctx, s, f)
}

// CorrectFeed replaces what is stored of the feed with f.ID. What it was is
// kept: see [Journal.Revisions]. A zero f.At leaves its time as it is; the
// vessel cannot be changed.
func (s *Journal) CorrectFeed(ctx context.Context, f Feed) error {
	if f.Vessel == "" {
		f.Vessel = "-" // as it is
	}
	if err := f.check(); err != nil {
		return fmt.Errorf("store: correct feed %d: %w", f.ID, err)
	}
	return correct(ctx, s, f)
}

// UndoFeed takes a feed back; it stays in the file.
func (s *Journal) UndoFeed(ctx context.Context, id int64) error {
	return s.hide(ctx, kindFeed, id, true)
}

// Feeds returns feeds, newest first, without those taken back.
func (s *Journal) Feeds(ctx context.Context, q Query) ([]Feed, error) {
	return entries[Feed](ctx, s, q)
}

// LastFeed returns a vessel's newest feed that is not after now, and false if it
// had none. An earlier release took feeds from the future, such as those of a
// recording made under a wrong clock.
func (s *Journal) LastFeed(ctx context.Context, vessel string) (Feed, bool, error) {
	feeds, err := s.Feeds(ctx, Query{Vessel: vessel, Limit: 1, To: s.lineNow().Add(event.Ahead)})
	if err == nil && len(feeds) == 0 { // a clock that is far behind must not lose the feed
		feeds, err = s.Feeds(ctx, Query{Vessel: vessel, Limit: 1})
	}
	if err != nil || len(feeds) == 0 {
		return Feed{}, false, err
	}
	return feeds[0], true, nil
}

// Entry is the feed as the event log hands it to the journal.
func (f Feed) Entry() event.Entry { return entryOf(f) }

func (f *Feed) row() row { return row{kindFeed, &f.ID, &f.Vessel, &f.At} }
