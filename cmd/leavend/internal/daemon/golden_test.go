package daemon

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/web"
	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/recording"
	"leavend/sensor/sim/simtest"
)

// goldenActs is what the baker does: at these hours after the start jar and bowl
// are filled, and Pilot goes into the fridge and comes out.
func goldenActs(t *testing.T, page http.Handler, hour int) {
	t.Helper()
	switch hour {
	case 0:
		askPage(t, page, "POST", "/api/vessels/bramble/feeds", `{"kept_g":30,"flours":[{"kind":"wheat","grams":70},{"kind":"rye","grams":20}],"water_g":90}`)
		askPage(t, page, "POST", "/api/vessels/bowl/feeds", `{"kept_g":100,"flours":[{"kind":"wheat","grams":500}],"water_g":350}`)
	case 20:
		askPage(t, page, "PUT", "/api/vessels/pilot/fridge", `{"in":true}`)
	case 23:
		askPage(t, page, "PUT", "/api/vessels/pilot/fridge", `{"in":false}`)
	case 26:
		askPage(t, page, "POST", "/api/vessels/bramble/feeds", `{}`)
	}
}

// goldenJars are the vessels of the scripted demo and the recordings that stand
// in for their sensors, so that each run sees the same.
var goldenJars = []struct{ name, kind, recording string }{
	{"Bramble", "jar", "history-00"}, {"Pilot", "jar", "unmarked-00"}, {"Bowl", "bowl", "mat-01"},
}

// goldenConfig watches the three vessels.
func goldenConfig(dir string) string {
	text := fmt.Sprintf("data_dir = %q\ntimezone = \"Europe/Oslo\"\n", dir)
	for _, v := range goldenJars {
		text += fmt.Sprintf(`[[sensor]]
name = "over %[1]s"
chip = "kitchen"
[[vessel]]
name = %[1]q
kind = %[2]q
distance = "over %[1]s"
temperature = "over %[1]s"
floor_mm = 220
height_mm = 170
`, v.name, v.kind)
		if v.kind == "bowl" {
			text += "target_ratio = 1.4\n"
		}
	}
	return text + "[mat]\noutput = \"kitchen\"\nvessel = \"Bramble\"\nsetpoint_c = 16\nwatts = 18\n" + leavendtest.NoNetwork
}

// goldenSources plays the recordings from start on.
func goldenSources(t *testing.T, start time.Time) func(config.Sensor) (sensor.Source, sensor.Source, error) {
	return func(s config.Sensor) (sensor.Source, sensor.Source, error) {
		for _, v := range goldenJars {
			if s.Name != "over "+v.name {
				continue
			}
			rows, err := hardware.ReadRecording(strings.NewReader(strings.Join(leavendtest.Unpacked(t, leavendtest.Curves+v.recording+".csv.gz"), "\n")))
			if err != nil {
				return nil, nil, err
			}
			player, err := recording.NewPlayer(rows, recording.PlayerOpts{Start: start})
			if err != nil {
				return nil, nil, err
			}
			return player.Distance(), player.Temperature(), nil
		}
		return nil, nil, fmt.Errorf("no recording for %s", s.Name)
	}
}

// askPage asks the page's API from this machine and returns its answer.
func askPage(t *testing.T, page http.Handler, method, path, body string) string {
	t.Helper()
	r := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
	r.RemoteAddr = "127.0.0.1:40000"
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("X-Leavend", "1")
	w := httptest.NewRecorder()
	page.ServeHTTP(w, r)
	text := w.Body.String()
	var out bytes.Buffer
	if json.Indent(&out, []byte(text), "", " ") == nil {
		text = out.String()
	}
	return fmt.Sprintf("%s %s: %d\n%s\n", method, path, w.Code, passing.ReplaceAllString(fractions.ReplaceAllString(text, "Z"), "X"))
}

// passing is what differs from run to run: sizes of files and disks, and what
// the mat drew and in which order things were stored, since some of them meet at
// the same instant.
var passing = regexp.MustCompile(`[^"]* saved, [^"]* free; readings waiting to be saved: [0-9]+|"kwh": [0-9.]+|"on_share_day": [0-9.]+|"id": "[0-9]+"`)

// fractions are the parts of a second in a time: which goroutine comes first
// within a moment of the invented clock moves them by a millisecond.
var fractions = regexp.MustCompile(`\.[0-9]+Z`)

// TestGoldenDemo plays a day of three recordings in virtual time and holds
// every message by MQTT, the metrics, and what the page's API answers.
func TestGoldenDemo(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		h := openTestDaemon(t, invented(t), goldenConfig(dir), func(p *Parts) {
			p.Mat, p.Invented, p.Simulated = &control.Dry{}, true, goldenSources(t, time.Now())
		})
		server, err := web.New(pageOf(h.Daemon), web.Opts{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		page := server.Handler()
		var messages, http, metrics strings.Builder
		began, hour := time.Now(), -1
		heard := h.Hub.Listen("golden")
		for time.Since(began) < 28*time.Hour {
			time.Sleep(10 * time.Second)
			synctest.Wait()
			for _, it := range heard.Flush() {
				if it.Event != nil && it.Event.Kind != event.Forecast {
					fmt.Fprintf(&messages, "%s/event %s\n", it.Event.Subject, eventIDs.ReplaceAllString(string(mqtt.EventMessage(*it.Event)), `"id":""`))
				}
			}
			now := int(time.Since(began) / time.Hour)
			if now == hour {
				continue
			}
			hour = now
			goldenActs(t, page, hour)
			for _, v := range h.Vessels {
				fmt.Fprintf(&messages, "%s %s\n", v.Conf.Slug, asJSON(t, h.link.vessel(v)))
			}
			fmt.Fprintf(&messages, "mat %s\n", asJSON(t, mqtt.MatOf(time.Now(), h.Mat.State(), h.Conf, h.heat.Meter.Joules())))
			if hour%3 == 0 {
				fmt.Fprintf(&http, "hour %d\n%s", hour, askPage(t, page, "GET", "/api/now", ""))
			}
			if hour%8 == 4 {
				fmt.Fprintf(&metrics, "hour %d\n%s", hour, numbers(t, h.metrics.Handler()))
			}
		}
		for _, path := range []string{
			"/api/setup", "/api/vessels/bramble/book", "/api/vessels/bowl/book", "/api/vessels/bramble/record", "/api/vessels/bramble/refused", "/api/vessels/bramble/suggestion?need=100",
			fmt.Sprintf("/api/vessels/bramble/window?from=%s&to=%s&max=48", began.UTC().Format(time.RFC3339), began.Add(28*time.Hour).UTC().Format(time.RFC3339)),
			"/api/plan", "/api/push",
		} {
			http.WriteString(askPage(t, page, "GET", path, ""))
		}
		h.close(t)
		golden.Compare(t, "testdata/golden/demo-mqtt.txt", asForetold(t, "demo-mqtt.txt", messages.String()))
		golden.Compare(t, "testdata/golden/demo-http.txt", asForetold(t, "demo-http.txt", http.String()))
		golden.Compare(t, "testdata/golden/demo-metrics.txt", metrics.String())
	})
}

// forecastTimes are the times of a forecast, which are whole minutes.
var forecastTimes = regexp.MustCompile(`"(?:peak_at|peak_low|peak_high|expected_at|ready_at|low|high)": ?"([^"]*)"`)

// asForetold gives the times of forecasts that lie within a minute of those in a
// golden file the golden file's. Whether a reading is stored before or after a
// forecast of the same instant moves it by moments, and so now and then across a
// minute.
func asForetold(t *testing.T, name, got string) string {
	t.Helper()
	golden, err := os.ReadFile(filepath.Join("testdata", "golden", name))
	if err != nil {
		t.Fatal(err)
	}
	lines, wants := strings.Split(got, "\n"), strings.Split(string(golden), "\n")
	for i := range min(len(lines), len(wants)) {
		want := forecastTimes.FindAllStringSubmatch(wants[i], -1)
		places := forecastTimes.FindAllStringSubmatchIndex(lines[i], -1)
		if len(places) != len(want) {
			continue
		}
		for k, at := range places { // the two are equally long
			said, err := time.Parse(time.RFC3339, lines[i][at[2]:at[3]])
			expected, wantErr := time.Parse(time.RFC3339, want[k][1])
			if err == nil && wantErr == nil && said.Sub(expected).Abs() <= time.Minute {
				lines[i] = lines[i][:at[2]] + want[k][1] + lines[i][at[3]:]
			}
		}
	}
	return strings.Join(lines, "\n")
}

// eventIDs are the ids of events, which hold milliseconds.
var eventIDs = regexp.MustCompile(`"id":"[^"]*"`)

func asJSON(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// machines are the metrics that depend on machine and build, or on which of two
// goroutines comes first.
var machines = regexp.MustCompile(`^leavend_(build_info|store_|hub_|mat_energy|mat_on_seconds)`)

// inSeconds rounds a time to the second. A forecast is a sum of many numbers, and
// its last digits depend on which of two goroutines came first.
func inSeconds(line string) string {
	name, text, ok := strings.Cut(strings.TrimSpace(line), " ")
	at, err := strconv.ParseFloat(text, 64)
	if !ok || err != nil || !strings.Contains(name, "_timestamp_seconds") || math.IsNaN(at) {
		return line
	}
	return fmt.Sprintf("%s %.0f\n", name, at)
}

// numbers are the metrics of our own that do not depend on machine and build.
func numbers(t *testing.T, metrics http.Handler) string {
	t.Helper()
	w := httptest.NewRecorder()
	metrics.ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	var out strings.Builder
	for line := range strings.Lines(w.Body.String()) {
		if strings.HasPrefix(line, "leavend_") && !machines.MatchString(line) {
			out.WriteString(inSeconds(line))
		}
	}
	return out.String()
}
