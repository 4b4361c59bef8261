package export

import (
	"bufio"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"leavend/cmd/leavend/internal/store"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// measurement is what each point of the line protocol is called.
const measurement = "leavend"

// Lines writes what is stored of vessels from from to to (exclusive) in
// the line protocol of time-series databases: a point for each number, with the
// vessel as its tag, the quantity as its field and the time in nanoseconds.
// Probes are told apart by a second tag. Feeds are points with the field fed.
func Lines(ctx context.Context, s *store.Store, w io.Writer, vessels []string, from, to time.Time) (int, error) {
	l := &lines{w: bufio.NewWriter(w)}
	for _, vessel := range vessels {
		if err := l.vessel(ctx, s, vessel, from, to); err != nil {
			return l.n, fmt.Errorf("store: export %s: %w", vessel, err)
		}
	}
	return l.n, l.w.Flush()
}

// lines writes points and counts them.
type lines struct {
	w    *bufio.Writer
	line lineprotocol.Encoder
	n    int
}

func (l *lines) vessel(ctx context.Context, s *store.Store, vessel string, from, to time.Time) error {
	err := s.Readings.Samples(ctx, vessel, from, to, func(x store.Sample) error {
		v, ok := lineprotocol.FloatValue(x.Value)
		if !ok {
			return nil // no number
		}
		field, probe, _ := strings.Cut(string(x.Channel), "/")
		return l.point(vessel, probe, field, v, x.At)
	})
	if err != nil {
		return err
	}
	feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: vessel, From: from, To: to})
	for i := 0; i < len(feeds) && err == nil; i++ {
		err = l.point(vessel, "", "fed", lineprotocol.BoolValue(true), feeds[i].At)
	}
	return err
}

func (l *lines) point(vessel, probe, field string, v lineprotocol.Value, at time.Time) error {
	l.line.Reset()
	l.line.StartLine(measurement)
	if probe != "" {
		l.line.AddTag("probe", probe) // tags in the order of their names
	}
	l.line.AddTag("vessel", vessel)
	l.line.AddField(field, v)
	l.line.EndLine(at)
	if err := l.line.Err(); err != nil {
		return err
	}
	l.n++
	_, err := l.w.Write(l.line.Bytes())
	return err
}

// Table writes what is stored of vessels from from to to (exclusive) as
// one CSV (RFC 4180) with a number a row: time, vessel, quantity, value, mean_of.
func Table(ctx context.Context, s *store.Store, w io.Writer, vessels []string, from, to time.Time) (int, error) {
	out, n := csv.NewWriter(w), 0
	if err := out.Write([]string{"time", "vessel", "quantity", "value", "mean_of"}); err != nil {
		return 0, err
	}
	for _, vessel := range vessels {
		err := s.Readings.Samples(ctx, vessel, from, to, func(x store.Sample) error {
			n++
			mean := ""
			if x.MeanOf > 0 {
				mean = strconv.FormatInt(x.MeanOf, 10)
			}
			return out.Write([]string{x.At.Format(time.RFC3339Nano), vessel, string(x.Channel), strconv.FormatFloat(x.Value, 'f', -1, 64), mean})
		})
		if err != nil {
			return n, fmt.Errorf("store: export %s: %w", vessel, err)
		}
	}
	out.Flush()
	return n, out.Error()
}
