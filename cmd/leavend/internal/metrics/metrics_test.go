package metrics

import (
	"fmt"
	"math"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func opts() Opts {
	return Opts{
		Version: "0.0.0-test", Revision: "none",
		Stages:       []string{"waiting", "rising", "top", "falling"},
		EventKinds:   []string{"fed", "peak"},
		FaultKinds:   []string{"cutoff", "stale reading"},
		ErrorReasons: []string{"no acknowledge", "bad checksum"},
		Vessels:      []string{"bramble"},
		Sensors: []Sensor{
			{"bramble-height", "bramble", "vessel", "distance"},
			{"crumb", "bramble", "vessel", "temperature"},
			{"air", "", "room", "humidity"},
		},
	}
}

// full is a page on which every series has a value.
func full() *Metrics {
	o := opts()
	o.Collect = func(p Page) {
		p.Vessel(bramble())
		p.Mat(control.State{
			On: true, Mode: control.Hold, OnTotal: 90 * time.Minute, OnSwitches: 7, SetpointC: 26, MatC: 31.5, MatOK: true, At: noon,
		}, config.Mat{Output: "line", CutoffVesselC: 38}, noon.Add(-5*time.Minute), new(108000.0))
		p.Sensor("bramble-height", "distance", 117.5, noon.Add(time.Second), false)
		p.Sensor("crumb", "temperature", 25.0625, noon, false)
		p.Sensor("air", "humidity", 48, noon, false)
		p.Faults(nil)
		p.Bool("leavend_mqtt_connected", true)
		p.Put("leavend_mqtt_connections_total", 2)
		p.Put("leavend_mqtt_events_sent_total", 3)
		p.Put("leavend_mqtt_states_sent_total", 100)
		for _, name := range []string{"events_waiting", "events_lost_total", "commands_total", "commands_refused_total", "requests_total", "requests_refused_total", "inbound_lost_total"} {
			p.Put("leavend_mqtt_"+name, 0)
		}
		p.Put("leavend_store_bytes", 1<<20)
		p.Put("leavend_store_free_bytes", 1<<34)
		p.Put("leavend_store_rows_waiting", 0)
		p.Put("leavend_store_errors_total", 0)
		p.Put("leavend_store_bad_rows_total", 0)
		p.Put("leavend_store_unstorable_total", 0)
		p.At("leavend_store_commit_timestamp_seconds", noon)
		p.Put("leavend_notifications_waiting", 0, "phone")
		p.Put("leavend_notifications_sent_total", 4, "phone")
		p.Put("leavend_notifications_failed_total", 0, "phone")
		p.Put("leavend_hub_dropped_total", 5, "web")
	}
	m := New(o)
	m.Reading("bramble-height", "distance")
	m.Reading("crumb", "temperature")
	m.Reading("air", "humidity")
	m.SensorError("bramble-height", "no acknowledge")
	m.Reading("bramble-height", "distance")
	m.Event("fed")
	m.Event("something new")
	m.Fault("cutoff")
	m.Forecast("bramble", -14*time.Minute)
	return m
}

// bramble is a jar of which everything is known.
func bramble() monitor.Status {
	fresh := func(v float64) *monitor.Measure { return &monitor.Measure{Value: v, At: noon, Fresh: true} }
	due := noon.Add(20 * time.Hour)
	return monitor.Status{
		ID: "bramble", Name: "Bramble", Kind: "jar", Available: true, Stage: "rising",
		Height: fresh(82.4), Rise: fresh(37.4), Ratio: fresh(1.83), Temp: fresh(25.0625),
		Feed:     &monitor.FeedStatus{At: noon.Add(-4 * time.Hour), DueAt: &due},
		Forecast: &monitor.Forecast{At: noon.Add(2 * time.Hour), Low: noon.Add(time.Hour), High: noon.Add(3 * time.Hour)},
		Call:     &monitor.Call{At: noon.Add(-22 * time.Hour)},
	}
}

func page(t *testing.T, m *Metrics) string {
	t.Helper()
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	if w.Code != 200 {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	return w.Body.String()
}

// ours keeps the lines that do not depend on the machine.
func ours(page string) string {
	var b strings.Builder
	for line := range strings.Lines(page) {
		if strings.Contains(line, "leavend_") {
			b.WriteString(regexp.MustCompile(`go1\.[0-9.]+`).ReplaceAllString(line, "go"))
		}
	}
	return b.String()
}

func TestPage(t *testing.T) {
	golden.Compare(t, filepath.Join("testdata", "page.txt"), ours(page(t, full())))
}
func TestEmpty(t *testing.T) {
	golden.Compare(t, filepath.Join("testdata", "empty.txt"), ours(page(t, New(opts()))))
}
func TestTable(t *testing.T) { golden.Compare(t, "METRICS.md", markdown()) }

func TestEverySeriesHasALineOnTheFullPage(t *testing.T) {
	got := page(t, full())
	for _, name := range names() {
		if !regexp.MustCompile(`(?m)^` + name + `[ {]`).MatchString(got) {
			t.Errorf("the page has no %s", name)
		}
	}
}

func TestUnknownIsAbsent(t *testing.T) {
	o := opts()
	o.Collect = func(p Page) {
		fresh := func(v float64) *monitor.Measure { return &monitor.Measure{Value: v, At: noon, Fresh: true} }
		p.Vessel(monitor.Status{ID: "bramble", Height: fresh(math.NaN()), Ratio: fresh(math.Inf(1)), Temp: &monitor.Measure{Value: 25, At: noon}})
		p.Sensor("crumb", "temperature", 25, noon, true)
	}
	got := page(t, New(o))
	for _, name := range []string{"leavend_surface_height_meters", "leavend_rise_ratio", "leavend_last_fed", "leavend_temperature_celsius", "leavend_vessel_temperature"} {
		if strings.Contains(got, "\n"+name) {
			t.Errorf("%s is shown though it is unknown", name)
		}
	}
	if !strings.Contains(got, `leavend_reading_timestamp_seconds{quantity="temperature",sensor="crumb"} 1.7734896e+09`) {
		t.Error("the time of the last good reading is gone with the value")
	}
}

// A sensor of two quantities has a line for each.
func TestTwoQuantities(t *testing.T) {
	o := opts()
	o.Collect = func(p Page) {
		p.Sensor("air", "humidity", 49, noon, false)
		p.Sensor("air", "temperature", 21, noon, false)
	}
	m := New(o)
	m.Reading("air", "humidity")
	m.Reading("air", "temperature")
	m.Reading("air", "humidity")
	got := page(t, m)
	for _, want := range []string{
		`leavend_readings_total{quantity="humidity",sensor="air"} 2`, `leavend_readings_total{quantity="temperature",sensor="air"} 1`,
		`leavend_humidity_ratio{sensor="air"} 0.49`, `leavend_temperature_celsius{sensor="air"} 21`,
	} {
		if !strings.Contains(got, want+"\n") {
			t.Errorf("the page lacks %s", want)
		}
	}
}

func TestFaultsThatStand(t *testing.T) {
	for name, tt := range map[string]struct {
		standing map[string]bool
		want     string
	}{
		"one of the kinds": {map[string]bool{"cutoff": true}, `leavend_fault_active{kind="cutoff"} 1`},
		"an unknown kind":  {map[string]bool{"something new": true}, `leavend_fault_active{kind="other"} 1`},
		"none":             {nil, `leavend_fault_active{kind="other"} 0`},
	} {
		t.Run(name, func(t *testing.T) {
			o := opts()
			o.Collect = func(p Page) { p.Faults(tt.standing) }
			if got := page(t, New(o)); !strings.Contains(got, tt.want+"\n") {
				t.Errorf("the page lacks %s", tt.want)
			}
		})
	}
}

// A name that is not in the table spoils the page, and never the daemon.
func TestUnknownName(t *testing.T) {
	o := opts()
	o.Collect = func(p Page) { p.Put("leavend_mistyped", 1) }
	w := httptest.NewRecorder()
	New(o).Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	if w.Code != 500 || !strings.Contains(w.Body.String(), "leavend_mistyped is not in the table") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}

func TestValuesAreCollectedForEachPage(t *testing.T) {
	o, calls := opts(), 0
	o.Collect = func(p Page) { calls++; p.Put("leavend_mqtt_connections_total", float64(calls)) }
	m := New(o)
	page(t, m)
	if got := page(t, m); !strings.Contains(got, "leavend_mqtt_connections_total 2") {
		t.Errorf("%d calls for 2 pages", calls)
	}
}

// names are those of every series of ours. A histogram has the three names of its
// parts.
func names() []string {
	var names []string
	for _, s := range table() {
		if s.kind == histogram {
			names = append(names, s.name+"_bucket", s.name+"_sum", s.name+"_count")
			continue
		}
		names = append(names, s.name)
	}
	return names
}

func TestLint(t *testing.T) {
	problems, err := promlint.New(strings.NewReader(page(t, full()))).Lint()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// badUnit finds units that promlint lets pass. The base units are those of the
// Prometheus naming practice.
var badUnit = regexp.MustCompile(`_(mm|cm|millimeters|percent|percentage|fahrenheit|kelvin|degrees|ms|minutes|hours|days|kilobytes|megabytes|grams)(_|$)`)

func TestUnits(t *testing.T) {
	for _, s := range table() {
		if badUnit.MatchString(s.name) {
			t.Errorf("%s is not in a base unit", s.name)
		}
		if !strings.HasPrefix(s.name, "leavend_") {
			t.Errorf("%s does not begin with leavend_", s.name)
		}
		if (s.kind == counter) != strings.HasSuffix(s.name, "_total") {
			t.Errorf("%s is a %s; counters and only counters end in _total", s.name, s.kind)
		}
		if !strings.HasSuffix(s.help, ".") {
			t.Errorf("%s: help is not a sentence", s.name)
		}
	}
	for _, bad := range []string{"leavend_height_mm", "leavend_humidity_percent", "leavend_age_minutes"} {
		if !badUnit.MatchString(bad) {
			t.Errorf("the check lets %s pass", bad)
		}
	}
}

// markdown returns the documentation of every series.
func markdown() string {
	var b strings.Builder
	b.WriteString(`# Series

Written by ` + "`go test ./cmd/leavend/internal/metrics -update`" + ` from the table that makes the page.

Units are the base units of the exposition format: seconds, metres, degrees Celsius, ratios from 0 to 1 (a rise ratio
may pass 1). Instants are Unix timestamps; an age is ` + "`time() - …_timestamp_seconds`" + `. A value that is not known
has no line. Beside these the page holds the ` + "`go_`" + `, ` + "`process_`" + ` and ` + "`promhttp_`" + ` series of the client library.

| series | type | labels | meaning |
|---|---|---|---|
`)
	for _, s := range table() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", s.name, s.kind, strings.Join(s.labels, ", "), s.help)
	}
	return b.String()
}
