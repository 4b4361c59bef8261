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
	b, n := bufio.NewWriter(w), 0
	var line lineprotocol.Encoder
	point := func(vessel, probe, field string, v lineprotocol.Value, at time.Time) error {
		line.Reset()
		line.StartLine(measurement)
		if probe != "" {
			line.AddTag("probe", probe) // tags in the order of their names
		}
		line.AddTag("vessel", vessel)
		line.AddField(field, v)
		line.EndLine(at)
		if err := line.Err(); err != nil {
			return err
		}
		n++
		_, err := b.Write(line.Bytes())
		return err
	}
	for _, vessel := range vessels {
		err := s.Readings.Samples(ctx, vessel, from, to, func(x store.Sample) error {
			v, ok := lineprotocol.FloatValue(x.Value)
			if !ok {
				return nil // no number
			}
			field, probe, _ := strings.Cut(string(x.Channel), "/")
			return point(vessel, probe, field, v, x.At)
		})
		if err != nil {
			return n, fmt.Errorf("store: export %s: %w", vessel, err)
		}
		feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: vessel, From: from, To: to})
		if err != nil {
			return n, err
		}
		for _, f := range feeds {
			if err := point(vessel, "", "fed", lineprotocol.BoolValue(true), f.At); err != nil {
				return n, fmt.Errorf("store: export %s: %w", vessel, err)
			}
		}
	}
	return n, b.Flush()
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
