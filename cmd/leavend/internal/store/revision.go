package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"time"
)

// Revision is what a journal entry was before a correction.
type Revision struct {
	Entry   int64           `json:"entry"`
	Made    time.Time       `json:"made"`              // when it was corrected
	At      time.Time       `json:"at"`                // the time the entry had
	Body    json.RawMessage `json:"body"`              // the entry as it was
	Removed bool            `json:"removed,omitempty"` // whether it was taken back then
}

// Revisions returns what entries were before each correction, the newest entry
// and the newest correction first.
func (s *Journal) Revisions(ctx context.Context) ([]Revision, error) {
	var all []Revision
	err := dbfile.Each(ctx, s.r, func(row *sql.Rows) error {
		var r Revision
		var made, at int64
		err := row.Scan(&r.Entry, &made, &at, (*[]byte)(&r.Body), &r.Removed)
		r.Made, r.At = time.UnixMilli(made).UTC(), time.UnixMilli(at).UTC()
		all = append(all, r)
		return err
	}, `SELECT r.entry, r.made, r.t + c.shift, r.body, r.removed FROM revision r JOIN clock c ON c.id = r.clock
		ORDER BY r.entry DESC, r.id DESC`)
	if err != nil {
		return nil, fmt.Errorf("store: read revisions: %w", err)
	}
	return all, nil
}

// Corrected tells which entries of a vessel were corrected: those with
// revisions.
func (s *Journal) Corrected(ctx context.Context, vessel string) (map[int64]bool, error) {
	return s.flagged(ctx, `SELECT DISTINCT r.entry FROM revision r JOIN entry e ON e.id = r.entry WHERE e.vessel = ?`, vessel)
}

// flagged gathers ids.
func (s *Journal) flagged(ctx context.Context, query, vessel string) (map[int64]bool, error) {
	ids, err := dbfile.Column[int64](ctx, s.r, query, vessel)
	if err != nil {
		return nil, fmt.Errorf("store: read entries of %s: %w", vessel, err)
	}
	found := map[int64]bool{}
	for _, id := range ids {
		found[id] = true
	}
	return found, nil
}
