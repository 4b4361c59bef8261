package store

import (
	"context"
	"fmt"
	"time"
)

// What may become of discard.
const (
	DiscardKept    = "kept"    // put into the discard jar besides a feed's
	DiscardUsed    = "used"    // taken out of it
	DiscardEmptied = "emptied" // all of it taken out
)

// DiscardMove is discard that went into the discard jar or out of it.
type DiscardMove struct {
	ID     int64     `json:"id,omitempty"`
	Vessel string    `json:"vessel,omitempty"` // whose discard
	At     time.Time `json:"at,omitzero"`
	Act    string    `json:"act"`             // DiscardKept, DiscardUsed or DiscardEmptied
	Grams  float64   `json:"grams,omitempty"` // not of DiscardEmptied
	Note   string    `json:"note,omitempty"`
}

func (m DiscardMove) check() error {
	switch m.Act {
	case DiscardKept, DiscardUsed, DiscardEmptied:
	default:
		return fmt.Errorf("its act is %q; it must be %q, %q or %q", m.Act, DiscardKept, DiscardUsed, DiscardEmptied)
	}
	if !(m.Grams >= 0 && m.Grams <= 1e5) {
		return fmt.Errorf("grams is %g; it must be between 0 and 100,000 g", m.Grams)
	}
	return nil
}

// AddDiscard stores a move of discard. When it returns without error the move
// is on the disk.
func (s *Journal) AddDiscard(ctx context.Context, m DiscardMove) (DiscardMove, error) {
	if err := m.check(); err != nil {
		return m, fmt.Errorf("store: add discard: %w", err)
	}
	return add(ctx, s, m)
}

// UndoDiscard takes a move back; it stays in the file.
func (s *Journal) UndoDiscard(ctx context.Context, id int64) error {
	return s.hide(ctx, kindDiscard, id, true)
}

// Discards returns moves of discard, newest first, without those taken back.
func (s *Journal) Discards(ctx context.Context, q Query) ([]DiscardMove, error) {
	return entries[DiscardMove](ctx, s, q)
}

func (m *DiscardMove) row() row { return row{kindDiscard, &m.ID, &m.Vessel, &m.At} }
