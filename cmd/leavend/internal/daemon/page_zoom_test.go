package daemon

import (
	"encoding/json"
	"flag"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/control"
	"leavend/sensor"
)

// BenchmarkWindows takes -windowdays 366 for the full campaign, and -windowdir
// to keep the store it makes for the next run.
var (
	windowDays = flag.Int("windowdays", 3, "days that BenchmarkWindows fills a store with")
	windowDir  = flag.String("windowdir", "", "folder that BenchmarkWindows makes its store in, or finds it in")
)

// windowJars are the jars of BenchmarkWindows.
var windowJars = []string{"Bramble", "Pilot", "Third", "Fourth"}

// BenchmarkWindows answers the page's curves over HTTP, as the page asks for
// them and in at most 2000 points, from the store of four jars that were read
// every ten seconds and fed twice a day: every span that the page offers, of
// any jar, at random places. "start" is the first year after a start, and
// "first" the first ever, when nothing was found out yet of the feeds, as for
// some hours after an import (learnBases). All data is invented.
func BenchmarkWindows(b *testing.B) {
	dir := *windowDir
	if dir == "" {
		dir = b.TempDir()
	}
	conf := fourJars(b, dir)
	if _, err := os.Stat(conf.Store.File); err != nil {
		began := time.Now()
		fillJars(b, conf.Store.File, *windowDays)
		b.Logf("%d days of four jars written in %v", *windowDays, time.Since(began).Round(time.Second))
	}
	d, err := New(b.Context(), conf, slog.New(slog.DiscardHandler), Parts{
		Mat: &control.Dry{}, Note: filepath.Join(b.TempDir(), "mat.json"),
		Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) { return nil, nil, nil },
	})
	if err != nil {
		b.Fatal(err)
	}
	defer d.Close()
	page := afterStart(b, d, false)
	ask := func(b *testing.B, jar string, from, to time.Time) (points int, took time.Duration) {
		b.Helper()
		q := url.Values{"from": {from.UTC().Format(time.RFC3339)}, "to": {to.UTC().Format(time.RFC3339)}, "max": {"2000"}}
		r := httptest.NewRequest("GET", "http://localhost/api/vessels/"+strings.ToLower(jar)+"/window?"+q.Encode(), nil)
		r.RemoteAddr = "127.0.0.1:40000"
		w := httptest.NewRecorder()
		began := time.Now()
		page.ServeHTTP(w, r)
		took = time.Since(began)
		var got struct {
			At []int64 `json:"at"`
		}
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 || len(got.At) > 2000 {
			b.Fatalf("%d with %d points: %v %.200s", w.Code, len(got.At), err, w.Body)
		}
		return len(got.At), took
	}
	end, rng := time.Now(), rand.New(rand.NewPCG(5, 6))
	filled := time.Duration(*windowDays) * 24 * time.Hour
	for _, zoom := range []struct {
		name string
		span time.Duration
	}{{"hour", time.Hour}, {"six", 6 * time.Hour}, {"day", 24 * time.Hour}, {"week", 7 * 24 * time.Hour}, {"month", 31 * 24 * time.Hour},
		{"first", filled}, {"start", filled}, {"year", filled}} {
		if zoom.span > filled {
			continue
		}
		b.Run(zoom.name, func(b *testing.B) {
			most, all, cpu := 0, []time.Duration{}, time.Duration(0)
			for i := 0; b.Loop(); i++ {
				jar := windowJars[i%len(windowJars)]
				if zoom.name == "first" || zoom.name == "start" {
					b.StopTimer()
					page = afterStart(b, d, zoom.name == "first")
					b.StartTimer()
				}
				back := time.Duration(rng.Int64N(int64(max(filled-zoom.span, 0)) + 1))
				before := worked()
				n, took := ask(b, jar, end.Add(-back-zoom.span), end.Add(-back))
				cpu += worked() - before
				most, all = max(most, n), append(all, took)
			}
			slices.Sort(all)
			ms := func(t time.Duration) float64 { return float64(t.Microseconds()) / 1000 }
			b.ReportMetric(ms(all[len(all)/2]), "median-ms")
			b.ReportMetric(ms(all[len(all)-1]), "worst-ms")
			b.ReportMetric(ms(cpu)/float64(len(all)), "cpu-ms/op")
			b.ReportMetric(float64(most), "points")
		})
	}
}

// afterStart is the page as after a start; with forget nothing is known of the feeds.
func afterStart(b *testing.B, d *Daemon, forget bool) http.Handler {
	b.Helper()
	for _, jar := range windowJars {
		if !forget {
			break
		}
		if err := d.Store.States.SetState(b.Context(), backend.BaselineState(strings.ToLower(jar)), struct{}{}); err != nil {
			b.Fatal(err)
		}
	}
	server, err := web.New(pageOf(d), web.Opts{})
	if err != nil {
		b.Fatal(err)
	}
	return server.Handler()
}

// worked is what this process has used of the processor.
func worked() time.Duration {
	var u unix.Rusage
	_ = unix.Getrusage(unix.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// fourJars is the config of a daemon that watches the jars and opens no
// port.
func fourJars(t testing.TB, dir string) *config.Config {
	t.Helper()
	text := fmt.Sprintf("data_dir = %q\n", dir)
	for _, jar := range windowJars {
		text += fmt.Sprintf("[[sensor]]\nname = \"eye %[1]s\"\nchip = \"kitchen\"\n[[vessel]]\nname = %[1]q\ndistance = \"eye %[1]s\"\ntemperature = \"eye %[1]s\"\nfloor_mm = 215\n", jar)
	}
	conf, err := config.Parse([]byte(text+leavendtest.NoNetwork), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	return conf
}

// fillJars writes days of four jars that end now, by the same path as a daemon
// would have.
func fillJars(t testing.TB, file string, days int) {
	t.Helper()
	now := time.Now().AddDate(0, 0, -days)
	s, _, err := store.Open(t.Context(), file, store.Opts{Clock: store.SteadyClock(func() time.Time { return now }, "a year ago")})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range days * 8640 {
		for n, jar := range windowJars {
			vessel := strings.ToLower(jar)
			step := (i + n*1080) % 4320 // of 12 hours
			if step == 0 {
				fed := store.Feed{Vessel: vessel, At: now, KeptG: 30, WaterG: 90}
				if _, err := s.Journal.AddFeed(t.Context(), fed); err != nil {
					t.Fatal(err)
				}
				top, err := json.Marshal(monitor.EventData{Text: "it stands at its peak", PeakAt: now.Add(6 * time.Hour)})
				if err != nil {
					t.Fatal(err)
				}
				if _, err := s.Journal.AddEvent(t.Context(), store.Event{Vessel: vessel, At: now.Add(6 * time.Hour), Kind: string(event.Peak), Data: top}); err != nil {
					t.Fatal(err)
				}
			}
			phase := float64(step) / 4320
			height := math.Round(50 + 60*math.Sin(math.Pi*math.Sqrt(phase)) + rng.NormFloat64())
			on := 0.0
			if i/60%3 == 0 {
				on = 1
			}
			for channel, v := range map[store.Channel]float64{
				store.Height: height, store.Distance: 215 - height, store.MatOn: on,
				store.Warmth: math.Round((25+phase+0.05*rng.NormFloat64())*16) / 16,
			} {
				s.Readings.Add(store.Reading{Vessel: vessel, Channel: channel, At: now, Value: v})
			}
		}
		now = now.Add(10 * time.Second)
		if i%360 == 359 {
			if err := s.Readings.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if i%259200 == 259199 {
			if err := s.Readings.Thin(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := s.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
}
