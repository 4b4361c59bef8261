package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	sqlite3 "modernc.org/sqlite/lib"
)

// BadRow is a row that cannot be read, although the file is sound: a bit of it
// has changed.
type BadRow struct {
	Table string
	ID    int64
	Why   error
}

func (b BadRow) String() string { return fmt.Sprintf("%s %d: %v", b.Table, b.ID, b.Why) }

// verifier reads rows as the program will, and hands those that it could not
// use to bad.
type verifier struct {
	q      querier
	rows   int            // read in all
	clocks map[int64]bool // filled where the table clock is read
	bad    func(BadRow)
}

// The tables that others refer to, those that are read at every start beside
// them, and those of readings, which only [Copies.Verify] reads.
func referred() []string { return []string{"clock", "vessel", "channel"} }
func small() []string    { return []string{"entry", "revision", "kept", "kept_before", "log"} }
func large() []string    { return []string{"rollup", "block"} }

// Verify reads each row of the store and returns how many there are. It hands
// those that cannot be read to bad.
func (s *Copies) Verify(ctx context.Context, bad func(BadRow)) (rows int, err error) {
	v := &verifier{q: s.r, clocks: map[int64]bool{}, bad: bad}
	if err := v.run(ctx, slices.Concat(referred(), small(), large())); err != nil {
		return v.rows, fmt.Errorf("store: verify: %w", err)
	}
	return v.rows, nil
}

func (v *verifier) run(ctx context.Context, tables []string) error {
	checks := map[string]struct {
		columns string
		check   func([]any) error
	}{
		"clock":       {"id, boot, zero, shift, synced, live, settled", v.clock},
		"vessel":      {"name", v.vessel},
		"channel":     {"name, vessel, number", v.channel},
		"entry":       {"kind, vessel, clock, t, body", v.entry},
		"revision":    {"body", jsonText},
		"kept":        {"name, value", keptValue},
		"kept_before": {"name, value", keptValue},
		"log":         {"consumer, body", logRow},
		"rollup":      {"level, vessel, clock, t, data", v.rollup},
		"block":       {"vessel, clock, t, last, n, data", v.block},
	}
	for _, name := range tables {
		if err := v.table(ctx, name, checks[name].columns, checks[name].check); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// table reads one table, whatever its columns hold.
func (v *verifier) table(ctx context.Context, name, columns string, check func([]any) error) error {
	rows, err := v.q.QueryContext(ctx, fmt.Sprintf(`SELECT id, %s FROM %s`, columns, name))
	if err != nil {
		return err
	}
	defer rows.Close()
	var id int64
	values := make([]any, 1+strings.Count(columns, ","))
	into := []any{&id}
	for i := range values {
		into = append(into, &values[i])
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		v.rows++
		if err := check(values); err != nil {
			v.bad(BadRow{name, id, err})
		}
	}
	return rows.Err()
}

var errType = errors.New("a column is not of its type")

// latest is the last moment that any row may be of: RFC 3339 writes no more.
var latest = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC).UnixMilli()

func (v *verifier) clock(c []any) error {
	id, _ := c[0].(int64)
	_, ok1 := c[1].(string)
	zero, ok2 := c[2].(int64)
	shift, ok3 := c[3].(int64)
	for _, flag := range c[4:] {
		n, ok := flag.(int64)
		ok1 = ok1 && ok && (n == 0 || n == 1)
	}
	if !ok1 || !ok2 || !ok3 {
		return errType
	}
	if at := zero + shift; at > latest || at < -latest || shift > latest || shift < -latest {
		return fmt.Errorf("it begins at %d, which is no time", at)
	}
	v.clocks[id] = true
	return nil
}

func (v *verifier) vessel(c []any) error {
	if name, ok := c[0].(string); !ok || name == "" || !utf8.ValidString(name) {
		return fmt.Errorf("its name %q is no text", c[0])
	}
	return nil
}

func (v *verifier) channel(c []any) error {
	_, ok1 := c[1].(int64)
	number, ok2 := c[2].(int64)
	if !ok1 || !ok2 || number < 0 || number >= maxChannels {
		return errType
	}
	return v.vessel(c[:1])
}

func (v *verifier) entry(c []any) error {
	kind, ok1 := c[0].(string)
	vessel, ok2 := c[1].(string)
	clock, ok3 := c[2].(int64)
	t, ok4 := c[3].(int64)
	body, ok5 := c[4].(string)
	switch {
	case !ok1 || !ok2 || !ok3 || !ok4 || !ok5:
		return errType
	case !utf8.ValidString(vessel):
		return fmt.Errorf("its vessel %q is no text", vessel)
	case !v.clocks[clock]:
		return fmt.Errorf("it is of clock %d, which is not there", clock)
	case t > latest || t < -latest:
		return fmt.Errorf("its time %d is no time", t)
	}
	into := map[string]any{
		kindFeed: &Feed{}, kindEvent: &Event{}, kindForecast: &Forecast{}, kindBake: &Bake{}, kindCurve: &Curve{},
		kindDiscard: &DiscardMove{}, kindStarter: &NewStarter{}, "fault": &struct{}{},
	}[kind]
	if into == nil {
		return fmt.Errorf("its kind %q is unknown", kind)
	}
	return json.Unmarshal([]byte(body), into)
}

func jsonText(c []any) error {
	text, ok := c[0].(string)
	if !ok {
		return errType
	}
	if !json.Valid([]byte(text)) {
		return errors.New("it is not JSON")
	}
	return nil
}

func keptValue(c []any) error {
	name, ok := c[0].(string)
	if !ok {
		return errType
	}
	if !strings.HasPrefix(name, "setting/") && !strings.HasPrefix(name, "state/") {
		return fmt.Errorf("its name %q is neither a setting's nor a state's", name)
	}
	return jsonText(c[1:])
}

func logRow(c []any) error {
	if _, ok := c[0].(string); !ok {
		return errType
	}
	return jsonText(c[1:])
}

func (v *verifier) rollup(c []any) error {
	level, ok1 := c[0].(int64)
	_, ok2 := c[1].(int64)
	clock, ok3 := c[2].(int64)
	t, ok4 := c[3].(int64)
	data, ok5 := c[4].([]byte)
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 && c[4] != nil || level < 0 || level >= int64(len(levels)) {
		return errType
	}
	if !v.clocks[clock] {
		return fmt.Errorf("it is of clock %d, which is not there", clock)
	}
	l := levels[level]
	var failed error
	err := decodePage(t, l, data, func(at int64, _ []stat) {
		if at < t || at >= t+l.span {
			failed = fmt.Errorf("rollup at %d: it has a bucket at %d", t, at)
		}
	})
	return errors.Join(err, failed)
}

func (v *verifier) block(c []any) error {
	_, ok1 := c[0].(int64)
	clock, ok2 := c[1].(int64)
	t, ok3 := c[2].(int64)
	last, ok4 := c[3].(int64)
	n, ok5 := c[4].(int64)
	data, ok6 := c[5].([]byte)
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 || !ok6 {
		return errType
	}
	if !v.clocks[clock] {
		return fmt.Errorf("it is of clock %d, which is not there", clock)
	}
	count, end := int64(0), t
	err := decodeBlock(t, data, func(s sample) bool {
		count, end = count+1, s.t
		return true
	})
	if err == nil && (count != n || end != last) {
		err = fmt.Errorf("block at %d: it holds %d readings up to %d, and says %d up to %d", t, count, end, n, last)
	}
	return err
}

// setRowsAside moves rows that cannot be read into a table of their own, as the
// values of an INSERT, so that somebody may still make sense of them, and the
// program never meets them again.
func setRowsAside(ctx context.Context, db *sql.DB, bad []BadRow, now time.Time) error {
	if len(bad) == 0 {
		return nil
	}
	return within(ctx, db, func(tx *sql.Tx) error {
		tables := map[string]bool{}
		for _, b := range bad {
			if err := setRowAside(ctx, tx, b, now); err != nil {
				return fmt.Errorf("%s %d: %w", b.Table, b.ID, err)
			}
			tables[b.Table] = true
		}
		// The bit may have changed a column that an index still has as it was.
		for name := range tables {
			if _, err := tx.ExecContext(ctx, `REINDEX `+name); err != nil && code(err) != sqlite3.SQLITE_CONSTRAINT {
				return err
			}
		}
		return nil
	})
}

func setRowAside(ctx context.Context, tx *sql.Tx, b BadRow, now time.Time) error {
	var columns string
	err := tx.QueryRowContext(ctx, `SELECT group_concat('quote(' || name || ')', ' || '', '' || ') FROM pragma_table_info(?)`, b.Table).Scan(&columns)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, fmt.Sprintf(`INSERT INTO aside (origin, row, why, made, data) SELECT ?, id, ?, ?, %s FROM %s WHERE id = ?`, columns, b.Table),
		b.Table, b.Why.Error(), now.UnixMilli(), b.ID)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM `+b.Table+` WHERE id = ?`, b.ID)
	return err
}

// reindex makes the indexes of tables anew, since a row that its index does not
// name is not found. Two rows that a changed bit made alike are left as they are.
func reindex(ctx context.Context, db *sql.DB, tables []string) error {
	for _, name := range tables {
		var found string
		if err := db.QueryRowContext(ctx, `PRAGMA integrity_check(`+name+`)`).Scan(&found); err != nil {
			return err
		}
		if found == "ok" {
			continue
		}
		if _, err := db.ExecContext(ctx, `REINDEX `+name); err != nil && code(err) != sqlite3.SQLITE_CONSTRAINT {
			return err
		}
	}
	return nil
}

// tend does each night what would take too long at a start: it reads each row of
// readings, and sees to their indexes.
func (s *Store) tend(ctx context.Context) error {
	bad := map[string]BadRow{}
	if _, err := s.Verify(ctx, func(b BadRow) { bad[b.Table] = b }); err != nil {
		return err
	}
	for _, b := range bad {
		s.badRow(b)
	}
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	return reindex(ctx, s.f, large())
}

// sift reads the small tables at a start and sets aside what it cannot use.
func (s *Store) sift(ctx context.Context, report *Report) error {
	var bad []BadRow
	v := &verifier{q: s.w, clocks: map[int64]bool{}, bad: func(b BadRow) { bad = append(bad, b) }}
	err := v.run(ctx, referred())
	if err != nil {
		return err
	}
	if len(bad) > 0 { // what refers to them gets a stand-in
		if err = setRowsAside(ctx, s.f, bad, s.opts.Clock.Now()); err == nil {
			_, err = s.w.ExecContext(ctx, adopt)
		}
	} else {
		_, err = s.w.ExecContext(ctx, adoptEntries)
	}
	if err != nil {
		return err
	}
	report.Aside, bad = bad, nil
	v.clocks = map[int64]bool{}
	if err := v.run(ctx, slices.Concat(referred(), small())); err != nil {
		return err
	}
	report.Aside = append(report.Aside, bad...)
	return setRowsAside(ctx, s.f, bad, s.opts.Clock.Now())
}
