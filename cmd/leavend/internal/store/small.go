package store

import (
	"context"
	"fmt"
	"time"
)

// smallSpan is how far back a small backup holds readings at full rate. A jar is
// fed about weekly, and the curve is worked out from the readings since.
const smallSpan = 10 * 24 * time.Hour

// blockBytes is what a block takes in the file, at the least: four channels at
// 10 s take about 150.
const blockBytes = 100

// leftOut estimates how many bytes a small backup leaves out.
func (s *Copies) leftOut(ctx context.Context) int64 {
	var n int64
	err := s.r.QueryRowContext(ctx, `SELECT count(*) FROM block b JOIN clock c ON c.id = b.clock WHERE b.t < ? - c.shift`,
		s.lineNow().Add(-smallSpan).UnixMilli()).Scan(&n)
	if err != nil {
		return 0 // the copy is taken to be whole
	}
	return n * blockBytes
}

// smallCopy writes a store that holds all but readings at full rate from before
// since. It reads in one transaction.
func smallCopy(ctx context.Context, path, to string, since time.Time) error {
	db := connection(to, 1, "synchronous(OFF)", "journal_mode(MEMORY)")
	defer db.Close()
	if err := migrate(ctx, db, len(migrations)); err != nil {
		return err
	}
	if _, err := db.ExecContext(ctx, `ATTACH ? AS whole`, fileURI(path)); err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for _, t := range tables {
		if t.name == "outbox" { // of an earlier schema
			continue
		}
		which := ``
		if t.name == "block" {
			which = fmt.Sprintf(` WHERE t >= %d - (SELECT shift FROM whole.clock WHERE id = clock)`, since.UnixMilli())
		}
		if _, err := tx.ExecContext(ctx, fmt.Sprintf(`INSERT OR REPLACE INTO main.%[1]s SELECT * FROM whole.%[1]s%[2]s`, t.name, which)); err != nil {
			return fmt.Errorf("%s: %w", t.name, err)
		}
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return db.Close()
}
