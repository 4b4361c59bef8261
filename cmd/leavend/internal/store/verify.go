package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// BadRow is a row that cannot be read, although the file is sound.
type BadRow = dbfile.BadRow

// verifier reads rows as the program will, and hands those that it could not
// use to bad.
type verifier struct {
	q      dbfile.Querier
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
		columns string // each with its type
		check   func(values) error
	}{
		"clock":       {"id INT, boot TEXT, zero INT, shift INT, synced INT, live INT, settled INT", v.clock},
		"vessel":      {"name TEXT", named},
		"channel":     {"name TEXT, vessel INT, number INT", channel},
		"entry":       {"kind TEXT, vessel TEXT, clock INT, t INT, body TEXT", v.entry},
		"revision":    {"body TEXT", func(c values) error { return jsonText(c.text(0)) }},
		"kept":        {"name TEXT, value TEXT", kept},
		"kept_before": {"name TEXT, value TEXT", kept},
		"log":         {"consumer TEXT, body TEXT", func(c values) error { return jsonText(c.text(1)) }},
		"rollup":      {"level INT, vessel INT, clock INT, t INT, data BLOB", v.rollup},
		"block":       {"vessel INT, clock INT, t INT, last INT, n INT, data BLOB", v.block},
	}
	for _, name := range tables {
		if err := v.table(ctx, name, checks[name].columns, checks[name].check); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// table reads one table, whatever its columns hold.
func (v *verifier) table(ctx context.Context, name, columns string, check func(values) error) error {
	var names, types []string
	for _, c := range strings.Split(columns, ", ") {
		column, kind, _ := strings.Cut(c, " ")
		names, types = append(names, column), append(types, kind)
	}
	var id int64
	row := make(values, len(names))
	into := []any{&id}
	for i := range row {
		into = append(into, &row[i])
	}
	return dbfile.Each(ctx, v.q, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		v.rows++
		err := row.are(types)
		if err == nil {
			err = check(row)
		}
		if err != nil {
			v.bad(BadRow{Table: name, ID: id, Why: err})
		}
		return nil
	}, fmt.Sprintf(`SELECT id, %s FROM %s`, strings.Join(names, ", "), name))
}

// values are those of one row.
type values []any

func (c values) int(i int) int64   { return c[i].(int64) }
func (c values) text(i int) string { return c[i].(string) }
func (c values) blob(i int) []byte { b, _ := c[i].([]byte); return b }

var errType = errors.New("a column is not of its type")

// are compares values with the types that they should have. A BLOB that is empty
// comes as nil.
func (c values) are(types []string) error {
	for i, kind := range types {
		is := ""
		switch c[i].(type) {
		case int64:
			is = "INT"
		case string:
			is = "TEXT"
		case []byte, nil:
			is = "BLOB"
		}
		if is != kind {
			return errType
		}
	}
	return nil
}

// latest is the last moment that any row may be of: RFC 3339 writes no more.
var latest = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC).UnixMilli()

func sometime(t int64) bool { return t <= latest && t >= -latest }

func (v *verifier) clock(c values) error {
	for i := 4; i < len(c); i++ {
		if c.int(i) != 0 && c.int(i) != 1 {
			return errType
		}
	}
	if at := c.int(2) + c.int(3); !sometime(at) || !sometime(c.int(3)) {
		return fmt.Errorf("it begins at %d, which is no time", at)
	}
	v.clocks[c.int(0)] = true
	return nil
}

func (v *verifier) onClock(id int64) error {
	if !v.clocks[id] {
		return fmt.Errorf("it is of clock %d, which is not there", id)
	}
	return nil
}

func named(c values) error {
	if name := c.text(0); name == "" || !utf8.ValidString(name) {
		return fmt.Errorf("its name %q is no text", name)
	}
	return nil
}

func channel(c values) error {
	if n := c.int(2); n < 0 || n >= maxChannels {
		return errType
	}
	return named(c)
}

func (v *verifier) entry(c values) error {
	if err := v.onClock(c.int(2)); err != nil {
		return err
	}
	into := map[string]any{
		kindFeed: &Feed{}, kindEvent: &Event{}, kindForecast: &Forecast{}, kindBake: &Bake{}, kindCurve: &Curve{},
		kindDiscard: &DiscardMove{}, kindStarter: &NewStarter{}, "fault": &struct{}{},
	}[c.text(0)]
	switch {
	case !utf8.ValidString(c.text(1)):
		return fmt.Errorf("its vessel %q is no text", c.text(1))
	case !sometime(c.int(3)):
		return fmt.Errorf("its time %d is no time", c.int(3))
	case into == nil:
		return fmt.Errorf("its kind %q is unknown", c.text(0))
	}
	return json.Unmarshal([]byte(c.text(4)), into)
}

func jsonText(text string) error {
	if !json.Valid([]byte(text)) {
		return errors.New("it is not JSON")
	}
	return nil
}

func kept(c values) error {
	if name := c.text(0); !strings.HasPrefix(name, settingPrefix) && !strings.HasPrefix(name, statePrefix) {
		return fmt.Errorf("its name %q is neither a setting's nor a state's", name)
	}
	return jsonText(c.text(1))
}

func (v *verifier) rollup(c values) error {
	level, t := c.int(0), c.int(3)
	if level < 0 || level >= int64(len(levels)) {
		return errType
	}
	failed := v.onClock(c.int(2))
	l := levels[level]
	err := decodePage(t, l, c.blob(4), func(at int64, _ []stat) {
		if at < t || at >= t+l.span {
			failed = fmt.Errorf("rollup at %d: it has a bucket at %d", t, at)
		}
	})
	return errors.Join(err, failed)
}

func (v *verifier) block(c values) error {
	t, last, n := c.int(2), c.int(3), c.int(4)
	count, end := int64(0), t
	err := decodeBlock(t, c.blob(5), func(s sample) bool {
		count, end = count+1, s.t
		return true
	})
	if err == nil && (count != n || end != last) {
		err = fmt.Errorf("block at %d: it holds %d readings up to %d, and says %d up to %d", t, count, end, n, last)
	}
	return errors.Join(err, v.onClock(c.int(1)))
}
