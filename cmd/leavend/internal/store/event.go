package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// Event is something that happened: a call of the peak, a target reached, a
// collapse, a setpoint changed, a mat switched off by the guard.
type Event struct {
	ID     int64           `json:"id,omitempty"`
	Vessel string          `json:"vessel,omitempty"` // empty for the whole kitchen
	At     time.Time       `json:"at,omitzero"`      // when it was made
	Kind   string          `json:"kind"`
	Data   json.RawMessage `json:"data,omitempty"` // the maker's own, JSON
}

// AddEvent stores an event; it is on the disk when AddEvent returns.
func (s *Journal) AddEvent(ctx context.Context, e Event) (Event, error) {
	if e.Kind == "" {
		return e, errors.New("store: add event: it has no kind")
	}
	return add(ctx, s, e)
}

// Events returns events, newest first.
func (s *Journal) Events(ctx context.Context, q Query) ([]Event, error) {
	return entries[Event](ctx, s, q)
}

// Forecast is what was expected of a peak, kept so that it can be scored when
// the peak has come.
type Forecast struct {
	ID        int64     `json:"id,omitempty"`
	Vessel    string    `json:"vessel,omitempty"`
	At        time.Time `json:"at,omitzero"` // when it was made
	Feed      int64     `json:"feed"`        // the feed it is about
	Peak      time.Time `json:"peak"`
	Low       time.Time `json:"low"` // the 80 % interval
	High      time.Time `json:"high"`
	RiseRatio float64   `json:"rise_ratio,omitempty"`
}

// AddForecast stores a forecast. It is committed like a reading, without a
// flush of the disk: forecasts come often and none of them is dear.
func (s *Journal) AddForecast(ctx context.Context, f Forecast) (Forecast, error) {
	if s.opts.ReadOnly {
		return f, ErrReadOnly
	}
	if err := s.take(ctx); err != nil {
		return f, err
	}
	defer s.give()
	err := dbfile.Within(ctx, s.w, func(tx *sql.Tx) (err error) {
		f.ID, err = s.insertEntry(ctx, tx, kindForecast, f.Vessel, f.At, body(f))
		return err
	})
	if err != nil {
		return f, fmt.Errorf("store: add forecast: %w", err)
	}
	return f, nil
}

// Forecasts returns forecasts, newest first.
func (s *Journal) Forecasts(ctx context.Context, q Query) ([]Forecast, error) {
	return entries[Forecast](ctx, s, q)
}

// Curve is what the detector learned from a past feed. Its data is the
// detector's own.
type Curve struct {
	ID     int64           `json:"id,omitempty"`
	Vessel string          `json:"vessel,omitempty"`
	At     time.Time       `json:"at,omitzero"` // of the feed
	Feed   int64           `json:"feed,omitempty"`
	Data   json.RawMessage `json:"data"`
}

// AddCurve stores what was learned from a feed that is over.
func (s *Journal) AddCurve(ctx context.Context, c Curve) (Curve, error) {
	return add(ctx, s, c)
}

// Curves returns what was learned, newest first.
func (s *Journal) Curves(ctx context.Context, q Query) ([]Curve, error) {
	return entries[Curve](ctx, s, q)
}

// Entry is the event as the event log hands it to the journal.
func (e Event) Entry() event.Entry { return entryOf(e) }

// Entry is the curve as the event log hands it to the journal.
func (c Curve) Entry() event.Entry { return entryOf(c) }

func (e *Event) row() row    { return row{kindEvent, &e.ID, &e.Vessel, &e.At} }
func (f *Forecast) row() row { return row{kindForecast, &f.ID, &f.Vessel, &f.At} }
func (c *Curve) row() row    { return row{kindCurve, &c.ID, &c.Vessel, &c.At} }
