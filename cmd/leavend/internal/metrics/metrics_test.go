package metrics

import (
	"flag"
	"fmt"
	"math"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
)

var update = flag.Bool("update", false, "write the golden files")

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run go test -update and look at the difference\ngot:\n%s", path, got)
	}
}

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func opts() Opts {
	return Opts{
		Version: "0.0.0-test", Revision: "none",
		Stages:       []string{"waiting", "rising", "top", "falling"},
		EventKinds:   []string{"fed", "peak"},
		FaultKinds:   []string{"cutoff", "stale reading"},
		ErrorReasons: []string{"no acknowledge", "bad checksum"},
		Vessels:      []Info{{"bramble", "Bramble", "jar"}},
		Mats:         []Info{{"mat", "Mat", "line"}},
		Sensors: []Sensor{
			{"bramble-height", "bramble", "vessel", "distance"},
			{"crumb", "bramble", "vessel", "temperature"},
			{"air", "", "room", "humidity"},
		},
	}
}

// full is a page on which every series has a value.
func full() *Metrics {
	m := New(opts())
	m.Vessel(Vessel{
		ID: "bramble", Available: true, Stage: "rising", HeightMM: new(82.4), RiseMM: new(37.4), RiseRatio: new(1.83),
		TemperatureC: new(25.0625), FedAt: noon.Add(-4 * time.Hour), FeedDueAt: noon.Add(20 * time.Hour),
		ForecastAt: noon.Add(2 * time.Hour), ForecastLow: noon.Add(time.Hour), ForecastHigh: noon.Add(3 * time.Hour),
		PeakAt: noon.Add(-22 * time.Hour),
	})
	m.Mat(Mat{
		ID: "mat", On: true, Enabled: true, OnTime: 90 * time.Minute, EnergyJ: new(108000.0), Switches: 7, SetpointC: new(26.0), CutoffC: new(38.0),
		MatC: new(31.5), DecidedAt: noon, ChangedAt: noon.Add(-5 * time.Minute),
	})
	m.Reading(Reading{Sensor: "bramble-height", Quantity: "distance", Value: 117.6, At: noon})
	m.Reading(Reading{Sensor: "crumb", Quantity: "temperature", Value: 25.0625, At: noon})
	m.Reading(Reading{Sensor: "air", Quantity: "humidity", Value: 48, At: noon})
	m.SensorError("bramble-height", "no acknowledge")
	m.Reading(Reading{Sensor: "bramble-height", Quantity: "distance", Value: 117.5, At: noon.Add(time.Second)})
	m.Event("fed")
	m.Event("something new")
	m.Fault("cutoff", true)
	m.Fault("cutoff", true)
	m.Fault("cutoff", false)
	m.Forecast("bramble", -14*time.Minute)
	m.Publish(Publish{Connected: true, Connections: 2, EventsSent: 3, StatesSent: 100})
	m.Store(Store{Bytes: 1 << 20, FreeBytes: 1 << 34, CommittedAt: noon})
	m.Notify("phone", Notify{Sent: 4})
	m.Dropped("web", 5)
	return m
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

func TestPage(t *testing.T) { golden(t, filepath.Join("testdata", "page.txt"), ours(page(t, full()))) }
func TestEmpty(t *testing.T) {
	golden(t, filepath.Join("testdata", "empty.txt"), ours(page(t, New(opts()))))
}
func TestTable(t *testing.T) { golden(t, "METRICS.md", markdown()) }

func TestEverySeriesHasALineOnTheFullPage(t *testing.T) {
	got := page(t, full())
	for _, name := range Names() {
		if !regexp.MustCompile(`(?m)^` + name + `[ {]`).MatchString(got) {
			t.Errorf("the page has no %s", name)
		}
	}
}

func TestUnknownIsAbsent(t *testing.T) {
	m := New(opts())
	m.Vessel(Vessel{ID: "bramble", HeightMM: new(math.NaN()), RiseRatio: new(math.Inf(1))})
	m.Reading(Reading{Sensor: "crumb", Quantity: "temperature", Value: 25, At: noon})
	m.SensorError("crumb", "bad checksum")
	got := page(t, m)
	for _, name := range []string{"leavend_surface_height_meters", "leavend_rise_ratio", "leavend_last_fed", "leavend_temperature_celsius"} {
		if strings.Contains(got, "\n"+name) {
			t.Errorf("%s is shown though it is unknown", name)
		}
	}
	if !strings.Contains(got, `leavend_reading_timestamp_seconds{quantity="temperature",sensor="crumb"} 1.7734896e+09`) {
		t.Error("the time of the last good reading is gone with the value")
	}
}

func TestReadingsCount(t *testing.T) {
	m := New(opts())
	for _, r := range []Reading{
		{Sensor: "air", Quantity: "humidity", Value: 48, At: noon}, {Sensor: "air", Quantity: "temperature", Value: 21, At: noon},
		{Sensor: "air", Quantity: "humidity", Value: 48, At: noon}, {Sensor: "air", Quantity: "humidity", Value: 49, At: noon.Add(time.Second)},
	} {
		m.Reading(r)
	}
	got := page(t, m)
	for _, want := range []string{
		`leavend_readings_total{quantity="humidity",sensor="air"} 2`, `leavend_readings_total{quantity="temperature",sensor="air"} 1`,
		`leavend_humidity_ratio{sensor="air"} 0.49`, `leavend_temperature_celsius{sensor="air"} 21`,
	} {
		if !strings.Contains(got, want+"\n") {
			t.Errorf("the page lacks %s", want)
		}
	}
	m.SensorError("air", "no acknowledge")
	if got := page(t, m); strings.Contains(got, "\nleavend_humidity_ratio") || strings.Contains(got, "\nleavend_temperature_celsius") {
		t.Error("a value of a failed sensor is shown")
	}
}

func TestMatRemembersWhenItWasSwitched(t *testing.T) {
	m := New(opts())
	for i, on := range []bool{false, false, true, true, true} {
		m.Mat(Mat{ID: "mat", On: on, DecidedAt: noon.Add(time.Duration(i) * time.Minute)})
	}
	if got, want := m.mats["mat"].ChangedAt, noon.Add(2*time.Minute); !got.Equal(want) {
		t.Errorf("switched at %v, want %v", got, want)
	}
}

func TestRefreshIsAskedForEachPage(t *testing.T) {
	o, calls := opts(), 0
	o.Refresh = func(m *Metrics) { calls++; m.Publish(Publish{Connections: uint64(calls)}) }
	m := New(o)
	page(t, m)
	if got := page(t, m); !strings.Contains(got, "leavend_mqtt_connections_total 2") {
		t.Errorf("%d calls for 2 pages", calls)
	}
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
