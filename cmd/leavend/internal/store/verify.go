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
	var id int64
	values := make([]any, 1+strings.Count(columns, ","))
	into := []any{&id}
	for i := range values {
		into = append(into, &values[i])
	}
	return dbfile.Each(ctx, v.q, func(row *sql.Rows) error {
		if err := row.Scan(into...); err != nil {
			return err
		}
		v.rows++
		if err := check(values); err != nil {
			v.bad(BadRow{Table: name, ID: id, Why: err})
		}
		return nil
	}, fmt.Sprintf(`SELECT id, %s FROM %s`, columns, name))
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
