package store

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/store/dbfile"
)

// Copies makes copies of the store, and takes readings in that come from a
// recording.
type Copies struct {
	*file
	readings *Readings
}

// Backup writes a whole, sound copy of the store to a file that must not exist
// yet, while everything goes on. What is still in memory is committed first. The
// copy opens as a store. See [dbfile.Source.Copy].
func (s *Copies) Backup(ctx context.Context, file string) error {
	c, err := s.source(ctx)
	if err != nil {
		return err
	}
	return c.Copy(ctx, file, nil)
}

// BackupOpts are the choices of a nightly backup.
type BackupOpts struct {
	Keep  int  // nights that stay; at least one
	Small bool // readings at full rate of the last days only; rollups and all else whole
}

// BackupDay writes the backup of a day into a folder: see [dbfile.Source.Nightly].
func (s *Copies) BackupDay(ctx context.Context, dir string, day time.Time, o BackupOpts) (string, error) {
	c, err := s.source(ctx)
	if err != nil {
		return "", err
	}
	var part *dbfile.Part
	if o.Small {
		part = s.lastDays(ctx)
	}
	return c.Nightly(ctx, dir, day, o.Keep, part)
}

func (s *Copies) source(ctx context.Context) (dbfile.Source, error) {
	if !s.opts.ReadOnly {
		if err := s.readings.Flush(ctx); err != nil {
			return dbfile.Source{}, fmt.Errorf("store: backup: %w", err)
		}
	}
	return dbfile.Source{Schema: schema, Path: s.path, Read: s.r}, nil
}

// smallSpan is how far back a small backup holds readings at full rate. A jar is
// fed about weekly, and the curve is worked out from the readings since.
const smallSpan = 10 * 24 * time.Hour

// blockBytes is what a block takes in the file, at the least: four channels at
// 10 s take about 150.
const blockBytes = 100

// lastDays leaves out of a copy what is older than smallSpan.
func (s *Copies) lastDays(ctx context.Context) *dbfile.Part {
	since := s.lineNow().Add(-smallSpan).UnixMilli()
	var n int64 // 0 where it cannot be had: the copy is taken to be whole
	_ = s.r.QueryRowContext(ctx, `SELECT count(*) FROM block b JOIN clock c ON c.id = b.clock WHERE b.t < ? - c.shift`, since).Scan(&n)
	return &dbfile.Part{
		Where: map[string]string{"block": fmt.Sprintf(`t >= %d - (SELECT shift FROM whole.clock WHERE id = clock)`, since)},
		Bytes: n * blockBytes,
	}
}

// Restore puts a backup in the place of the store at path: see
// [dbfile.Schema.Restore].
func Restore(ctx context.Context, path, backup string) (aside string, err error) {
	return schema.Restore(ctx, path, backup)
}
