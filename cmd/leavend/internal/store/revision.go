package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Revision is what a journal entry was before a correction.
type Revision struct {
	Made    time.Time       `json:"made"`              // when it was corrected
	At      time.Time       `json:"at"`                // the time the entry had
	Body    json.RawMessage `json:"body"`              // the entry as it was
	Removed bool            `json:"removed,omitempty"` // whether it was taken back then
}

// Revisions returns what an entry was before each correction, newest first.
func (s *Journal) Revisions(ctx context.Context, id int64) ([]Revision, error) {
	rows, err := s.r.QueryContext(ctx, `
		SELECT r.made, r.t + c.shift, r.body, r.removed FROM revision r JOIN clock c ON c.id = r.clock
		WHERE r.entry = ? ORDER BY r.id DESC`, id)
	if err != nil {
		return nil, fmt.Errorf("store: read revisions of %d: %w", id, err)
	}
	defer rows.Close()
	var all []Revision
	for rows.Next() {
		var r Revision
		var made, at int64
		var body string
		if err := rows.Scan(&made, &at, &body, &r.Removed); err != nil {
			return nil, err
		}
		r.Made, r.At, r.Body = time.UnixMilli(made).UTC(), time.UnixMilli(at).UTC(), json.RawMessage(body)
		all = append(all, r)
	}
	return all, rows.Err()
}

// Corrected tells which entries of a vessel were corrected: those with
// revisions.
func (s *Journal) Corrected(ctx context.Context, vessel string) (map[int64]bool, error) {
	return s.flagged(ctx, `SELECT DISTINCT r.entry FROM revision r JOIN entry e ON e.id = r.entry WHERE e.vessel = ?`, vessel)
}

// flagged gathers ids.
func (s *Journal) flagged(ctx context.Context, query, vessel string) (map[int64]bool, error) {
	rows, err := s.r.QueryContext(ctx, query, vessel)
	if err != nil {
		return nil, fmt.Errorf("store: read entries of %s: %w", vessel, err)
	}
	defer rows.Close()
	found := map[int64]bool{}
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		found[id] = true
	}
	return found, rows.Err()
}
