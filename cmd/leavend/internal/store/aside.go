package store

import (
	"context"
	"slices"

	"leavend/cmd/leavend/internal/store/dbfile"
)

// checkReadings does each night what would take too long at a start: it reads each row of
// readings, and sees to their indexes.
func (s *Store) checkReadings(ctx context.Context) error {
	bad := map[string]BadRow{}
	if _, err := s.Copies.Verify(ctx, func(b BadRow) { bad[b.Table] = b }); err != nil {
		return err
	}
	for _, b := range bad {
		s.file.badRow(b)
	}
	if err := s.file.take(ctx); err != nil {
		return err
	}
	defer s.file.give()
	return dbfile.MendIndexes(ctx, s.file.f, large())
}

// setBadRowsAside reads the small tables at a start and sets aside what it cannot use.
func (s *Store) setBadRowsAside(ctx context.Context, report *Report) error {
	found, err := s.setAside(ctx, referred())
	if err != nil {
		return err
	}
	adopt := entryStandIns
	if found != nil { // what refers to them gets a stand-in
		adopt = standIns
	}
	if _, err := s.file.w.ExecContext(ctx, adopt); err != nil {
		return err
	}
	more, err := s.setAside(ctx, slices.Concat(referred(), small()))
	report.Aside = append(found, more...)
	if err != nil || len(report.Aside) == 0 {
		return err
	}
	return schema.FillAside(ctx, s.file.w, s.file.opts.Backups, report)
}

// setAside reads tables and sets aside what the program cannot use.
func (s *Store) setAside(ctx context.Context, tables []string) (bad []BadRow, err error) {
	v := &verifier{q: s.file.w, clocks: map[int64]bool{}, bad: func(b BadRow) { bad = append(bad, b) }}
	if err := v.run(ctx, tables); err != nil || len(bad) == 0 {
		return nil, err
	}
	return bad, dbfile.SetRowsAside(ctx, s.file.f, bad, s.file.opts.Clock.Now())
}

// noteHead copies the first page of the file: see [dbfile.Schema.NoteHead].
func (s *Store) noteHead(ctx context.Context) error {
	if err := s.file.take(ctx); err != nil {
		return err
	}
	defer s.file.give()
	return schema.NoteHead(ctx, s.file.w, s.file.path)
}
