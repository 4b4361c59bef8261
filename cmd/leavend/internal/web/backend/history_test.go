package backend

import (
	"log/slog"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

func TestOnTop(t *testing.T) {
	nan := math.NaN()
	tests := []struct {
		name  string
		ratio web.Column
		want  float64
		over  bool
	}{
		{"a top of two hours", web.Column{1, 1.5, 1.97, 2, 1.96, 1.5}, 2, true},
		{"with a gap in it", web.Column{1, 1.97, nan, 1.99, 1.2}, 2, true},
		{"still there", web.Column{1, 1.5, 1.99, 2}, 1, false},
		{"no rise", web.Column{1, 1, 0.98}, nan, false},
		{"nothing read", web.Column{nan, nan}, nan, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := web.FeedCurve{Ratio: tt.ratio}
			for i := range tt.ratio {
				c.Hours = append(c.Hours, float64(i))
			}
			got, over := onTop(c)
			if over != tt.over || over && got != tt.want {
				t.Errorf("%v hours, over %v; want %v, %v", got, over, tt.want, tt.over)
			}
		})
	}
}

// openPast is what a daemon with this config knows, without its sensors.
func openPast(t testing.TB, text string) *monitor.Monitor {
	t.Helper()
	conf, err := config.Parse([]byte(text), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	m := monitor.NewMonitor(conf, event.NewClock(time.Now(), 1), slog.New(slog.DiscardHandler))
	if m.Store, _, err = store.Open(t.Context(), filepath.Join(t.TempDir(), "leavend.db"), store.Opts{}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.Store.Close() })
	if err := m.Open(t.Context()); err != nil {
		t.Fatal(err)
	}
	return m
}

// TestCorrectedFeedHasAnotherBasis moves a feed in time: the curve must count
// from the height at the new moment, however often the old one was asked for.
func TestCorrectedFeedHasAnotherBasis(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))

	p := &History{m: d}
	began := time.Now().Add(-6 * time.Hour).Truncate(time.Second)
	for i := range 6 * 60 { // a step of 20 mm after each of three hours, from 60 mm on
		at := began.Add(time.Duration(i) * time.Minute)
		d.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Height, At: at, Value: 60 + 20*math.Floor(min(float64(i), 180)/60)})
	}
	feed, err := d.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: began})
	if err != nil {
		t.Fatal(err)
	}
	span := web.Span{From: began, To: began.Add(6 * time.Hour), Max: 400}
	for _, tt := range []struct {
		at   time.Time
		want float64
	}{{began, 2}, {began, 2}, {began.Add(time.Hour), 1.5}, {began.Add(2 * time.Hour), 1.2}} {
		feed.At = tt.at
		if err := d.Store.Journal.CorrectFeed(t.Context(), feed); err != nil {
			t.Fatal(err)
		}
		w, err := p.Window(t.Context(), "bramble", span)
		if err != nil {
			t.Fatal(err)
		}
		if got := w.Ratio[len(w.Ratio)-1]; math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("fed at %v the curve ends at %v times, want %v", tt.at.Sub(began), got, tt.want)
		}
	}
}

// TestHandIsNoCurve holds a hand over a jar whose floor is not known: the
// curve shows none of it, and what was read before hands were told apart is
// shown as ever.
func TestHandIsNoCurve(t *testing.T) {
	d := openPast(t, strings.Replace(leavendtest.JarConfig(t.TempDir()), "floor_mm = 215\n", "", 1))

	p, v := &History{m: d}, d.Vessel("bramble")
	began := time.Now().Add(-4 * time.Hour).Truncate(time.Second)
	if _, err := d.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: began.Add(-time.Minute)}); err != nil {
		t.Fatal(err)
	}
	hands := 0
	for i := range 3 * 360 {
		at, mm := began.Add(time.Duration(i)*10*time.Second), 150-float64(i)/36
		if i < 60 { // by an older version
			d.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Distance, At: at, Value: mm})
			continue
		}
		if i%120 == 80 {
			mm = 60
			hands++
		}
		s, _ := v.Distance(at, mm, "")
		d.SaveSample(s)
	}
	w, err := p.Window(t.Context(), "bramble", web.Span{From: began, To: began.Add(3 * time.Hour), Max: 2000})
	if err != nil {
		t.Fatal(err)
	}
	shown, most := 0, 0.0
	for _, h := range w.HeightMM {
		if !math.IsNaN(h) {
			shown++
			most = max(most, h)
		}
	}
	if most > 31 || most < 28 || shown < 3*360-hands-5 {
		t.Errorf("%d points of %d, up to %.1f mm; want all but the %d hands, up to 30 mm", shown, 3*360, most, hands)
	}
}

// TestCurveOfAJarNeverFed asks for the curve of a jar that was never fed, first
// of all things.
func TestCurveOfAJarNeverFed(t *testing.T) {
	d := openPast(t, leavendtest.JarConfig(t.TempDir()))
	now := time.Now()
	d.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Height, At: now.Add(-time.Minute), Value: 60})
	w, err := (&History{m: d}).Window(t.Context(), "bramble", web.Span{From: now.Add(-time.Hour), To: now, Max: 400})
	if err != nil || len(w.HeightMM) != 1 || w.HeightMM[0] != 60 || !math.IsNaN(w.Ratio[0]) {
		t.Errorf("%v, %v", w, err)
	}
}
