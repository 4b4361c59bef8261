package backend

import (
	"context"
	"io"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/export"
)

// Exports write what is stored.
type Exports struct{ m *monitor.Monitor }

// Known returns ErrUnknown for a vessel that does not exist.
func (e Exports) Known(vessel string) error {
	if e.m.Vessel(vessel) == nil {
		return failure.ErrUnknown
	}
	return nil
}

// Recording writes one vessel's readings as a recording.
func (e Exports) Recording(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := export.Recording(ctx, e.m.Store, w, vessel, from, to)
	return err
}

// Table writes readings with a number a row.
func (e Exports) Table(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := export.Table(ctx, e.m.Store, w, e.these(vessel), from, to)
	return err
}

// Lines writes readings in the line protocol.
func (e Exports) Lines(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := export.Lines(ctx, e.m.Store, w, e.these(vessel), from, to)
	return err
}

// JournalFile writes the journal.
func (e Exports) JournalFile(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error {
	return export.Journal(ctx, e.m.Store, w, store.Query{Vessel: vessel, From: from, To: to}, e.m.Clock.Now())
}

// these are the vessel that is named, or all.
func (e Exports) these(vessel string) []string {
	if vessel != "" {
		return []string{vessel}
	}
	var all []string
	for _, v := range e.m.Vessels {
		all = append(all, v.Conf.Slug)
	}
	return all
}
