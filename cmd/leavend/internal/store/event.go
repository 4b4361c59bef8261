package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/event"
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
	body := e
	body.ID, body.Vessel, body.At = 0, "", time.Time{}
	id, err := s.addEntry(ctx, kindEvent, e.Vessel, e.At, body)
	e.ID = id
	return e, err
}

// Events returns events, newest first.
func (s *Journal) Events(ctx context.Context, q Query) ([]Event, error) {
	return entries(ctx, s, kindEvent, q, func(e *Event, p spot) { e.ID, e.Vessel, e.At = p.id, p.vessel, p.at })
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
	body := f
	body.ID, body.Vessel, body.At = 0, "", time.Time{}
	err := within(ctx, s.w, func(tx *sql.Tx) (err error) {
		f.ID, err = s.insertEntry(ctx, tx, kindForecast, f.Vessel, f.At, body)
		return err
	})
	if err != nil {
		return f, fmt.Errorf("store: add forecast: %w", err)
	}
	return f, nil
}

// Forecasts returns forecasts, newest first.
func (s *Journal) Forecasts(ctx context.Context, q Query) ([]Forecast, error) {
	return entries(ctx, s, kindForecast, q, func(f *Forecast, p spot) { f.ID, f.Vessel, f.At = p.id, p.vessel, p.at })
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
	body := c
	body.ID, body.Vessel, body.At = 0, "", time.Time{}
	id, err := s.addEntry(ctx, kindCurve, c.Vessel, c.At, body)
	c.ID = id
	return c, err
}

// Curves returns what was learned, newest first.
func (s *Journal) Curves(ctx context.Context, q Query) ([]Curve, error) {
	return entries(ctx, s, kindCurve, q, func(c *Curve, p spot) { c.ID, c.Vessel, c.At = p.id, p.vessel, p.at })
}

// Entry is the event as the event log hands it to the journal.
func (e Event) Entry() event.Entry {
	vessel, at := e.Vessel, e.At
	e.ID, e.Vessel, e.At = 0, "", time.Time{}
	return event.Entry{Kind: kindEvent, Vessel: vessel, At: at, Body: e}
}

// Entry is the curve as the event log hands it to the journal.
func (c Curve) Entry() event.Entry {
	vessel, at := c.Vessel, c.At
	c.ID, c.Vessel, c.At = 0, "", time.Time{}
	return event.Entry{Kind: kindCurve, Vessel: vessel, At: at, Body: c}
}
