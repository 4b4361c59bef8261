package store

import (
	"context"
	"errors"
	"time"
)

// NewStarter says that a jar holds another starter from a moment on. What was
// learnt of the one before is not the new one's; all of it stays stored.
type NewStarter struct {
	ID     int64     `json:"id,omitempty"`
	Vessel string    `json:"vessel,omitempty"`
	At     time.Time `json:"at,omitzero"`
	Note   string    `json:"note,omitempty"`
}

// AddStarter stores that a new starter began. When it returns without error it
// is on the disk.
func (s *Journal) AddStarter(ctx context.Context, n NewStarter) (NewStarter, error) {
	if n.Vessel == "" {
		return n, errors.New("store: add starter: it names no vessel")
	}
	id, err := s.addEntry(ctx, kindStarter, n.Vessel, n.At, n.body())
	n.ID = id
	return n, err
}

// CorrectStarter replaces what is stored of the beginning with n.ID; what it
// was is kept, and a zero n.At leaves its time as it is.
func (s *Journal) CorrectStarter(ctx context.Context, n NewStarter) error {
	return s.reviseEntry(ctx, kindStarter, n.ID, func([]byte) (any, time.Time, bool, error) {
		return n.body(), n.At, false, nil
	})
}

// UndoStarter takes a beginning back: the starter before was never gone. It
// stays in the file.
func (s *Journal) UndoStarter(ctx context.Context, id int64) error {
	return s.hide(ctx, kindStarter, id, true)
}

// Starters returns the beginnings of new starters, newest first, without those
// taken back.
func (s *Journal) Starters(ctx context.Context, q Query) ([]NewStarter, error) {
	return entries(ctx, s, kindStarter, q, func(n *NewStarter, p spot) { n.ID, n.Vessel, n.At = p.id, p.vessel, p.at })
}

// body is the beginning without what the row says already.
func (n NewStarter) body() NewStarter {
	n.ID, n.Vessel, n.At = 0, "", time.Time{}
	return n
}
