package export

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"leavend/cmd/leavend/internal/store"
)

// TestExportLines reads what was written with the protocol's own decoder, and
// finds every reading and feed again.
func TestExportLines(t *testing.T) {
	var now time.Time
	s := newStore(t, &now)
	want := fill(s, &now, "Bramble jar", 300)
	fill(s, &now, "pilot", 3)
	s.Readings.Add(store.Reading{Vessel: "Bramble jar", Channel: store.Warmth + "/crumb", At: now, Value: 31.25})
	s.Readings.Flush(t.Context())
	if _, err := s.Journal.AddFeed(t.Context(), store.Feed{Vessel: "pilot", At: epoch}); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	n, err := Lines(t.Context(), s, &b, []string{"Bramble jar", "pilot"}, epoch, now.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	type point struct {
		vessel, probe, field string
		at                   int64
	}
	got := map[point]any{}
	for d := lineprotocol.NewDecoderWithBytes(b.Bytes()); d.Next(); {
		name, err := d.Measurement()
		if err != nil || string(name) != "leavend" {
			t.Fatalf("%q, %v", name, err)
		}
		var p point
		for {
			key, v, err := d.NextTag()
			if err != nil {
				t.Fatal(err)
			}
			if key == nil {
				break
			}
			*map[string]*string{"vessel": &p.vessel, "probe": &p.probe}[string(key)] = string(v)
		}
		key, v, err := d.NextField()
		if err != nil {
			t.Fatal(err)
		}
		p.field = string(key)
		at, err := d.Time(lineprotocol.Nanosecond, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		p.at = at.UnixNano()
		got[p] = v.Interface()
	}
	if len(got) != n || n != len(want)+6+1+1 {
		t.Errorf("%d points, said %d, want %d", len(got), n, len(want)+6+2)
	}
	for _, r := range want {
		p := point{"Bramble jar", "", string(r.Channel), r.At.UnixNano()}
		if got[p] != r.Value {
			t.Fatalf("%+v is %v, want %v", p, got[p], r.Value)
		}
	}
	if got[point{"pilot", "", "fed", epoch.UnixNano()}] != true {
		t.Error("the feed is missing")
	}
	if got[point{"Bramble jar", "crumb", "temperature_c", now.UnixNano()}] != 31.25 {
		t.Error("the probe's reading is missing")
	}
}

// TestExportTable holds each row to the reading it comes from.
func TestExportTable(t *testing.T) {
	var now time.Time
	s := newStore(t, &now)
	want := fill(s, &now, "bramble", 300)
	s.Readings.Flush(t.Context())
	var b bytes.Buffer
	n, err := Table(t.Context(), s, &b, []string{"bramble"}, epoch, now.Add(time.Hour))
	if err != nil || n != len(want) {
		t.Fatalf("%d rows, want %d, %v", n, len(want), err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != n+1 {
		t.Fatal(len(rows), err)
	}
	for i, r := range want {
		row := rows[i+1]
		v, _ := strconv.ParseFloat(row[3], 64)
		if row[0] != r.At.UTC().Format(time.RFC3339Nano) || row[1] != "bramble" || row[2] != string(r.Channel) || v != r.Value {
			t.Fatalf("row %d: %q, want %+v", i, row, r)
		}
	}
}
