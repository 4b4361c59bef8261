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
	return add(ctx, s, n)
}

// CorrectStarter replaces what is stored of the beginning with n.ID; what it
// was is kept, and a zero n.At leaves its time as it is.
func (s *Journal) CorrectStarter(ctx context.Context, n NewStarter) error { return correct(ctx, s, n) }

// UndoStarter takes a beginning back: the starter before was never gone. It
// stays in the file.
func (s *Journal) UndoStarter(ctx context.Context, id int64) error {
	return s.hide(ctx, kindStarter, id, true)
}

// Starters returns the beginnings of new starters, newest first, without those
// taken back.
func (s *Journal) Starters(ctx context.Context, q Query) ([]NewStarter, error) {
	return entries[NewStarter](ctx, s, q)
}

func (n *NewStarter) row() row { return row{kindStarter, &n.ID, &n.Vessel, &n.At} }
