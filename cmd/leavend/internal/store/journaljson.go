package store

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
)

// ExportJSON writes the journal as one JSON object: feeds, events, forecasts, bakes, moves of discard, curves, beginnings of new starters, each
// oldest last with an entry a line, then what entries were before corrections,
// and settings with their former values.
// Readings are in [Store.ExportCSV], photos in a backup.
func (s *Copies) ExportJSON(ctx context.Context, w io.Writer, q Query) error {
	b := bufio.NewWriter(w)
	x := &jsonExport{w: b}
	fmt.Fprintf(b, "{\n\"format\": \"leavend journal 1\",\n\"exported\": %q", s.now().UTC().Format("2006-01-02T15:04:05Z07:00"))
	list(x, "feeds", func() ([]Feed, error) { return s.journal.Feeds(ctx, q) })
	list(x, "events", func() ([]Event, error) { return s.journal.Events(ctx, q) })
	list(x, "forecasts", func() ([]Forecast, error) { return s.journal.Forecasts(ctx, q) })
	list(x, "bakes", func() ([]Bake, error) { return s.loaves.Bakes(ctx, q) })
	list(x, "discards", func() ([]DiscardMove, error) { return s.journal.Discards(ctx, q) })
	list(x, "curves", func() ([]Curve, error) { return s.journal.Curves(ctx, q) })
	list(x, "starters", func() ([]NewStarter, error) { return s.journal.Starters(ctx, q) })
	list(x, "revisions", func() ([]revised, error) { return s.allRevisions(ctx) })
	list(x, "settings", func() ([]Setting, error) { return s.kept.Settings(ctx) })
	fmt.Fprint(b, "\n}\n")
	if x.err == nil {
		x.err = b.Flush()
	}
	if x.err != nil {
		return fmt.Errorf("store: export journal: %w", x.err)
	}
	return nil
}

// jsonExport carries the first error.
type jsonExport struct {
	w   io.Writer
	err error
}

// list writes one array, an entry a line.
func list[T any](x *jsonExport, name string, read func() ([]T, error)) {
	if x.err != nil {
		return
	}
	all, err := read()
	if err != nil {
		x.err = err
		return
	}
	fmt.Fprintf(x.w, ",\n%q: [", name)
	for i, one := range all {
		text, err := json.Marshal(one)
		if err != nil {
			x.err = err
			return
		}
		if i > 0 {
			fmt.Fprint(x.w, ",")
		}
		fmt.Fprintf(x.w, "\n%s", text)
	}
	_, x.err = fmt.Fprint(x.w, "]")
}

// revised is a revision with the entry it is of.
type revised struct {
	Entry int64 `json:"entry"`
	Revision
}

func (s *Copies) allRevisions(ctx context.Context) ([]revised, error) {
	rows, err := s.r.QueryContext(ctx, `SELECT DISTINCT entry FROM revision ORDER BY entry DESC`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []int64
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	var all []revised
	for _, id := range ids {
		revisions, err := s.journal.Revisions(ctx, id)
		if err != nil {
			return nil, err
		}
		for _, r := range revisions {
			all = append(all, revised{id, r})
		}
	}
	return all, nil
}
