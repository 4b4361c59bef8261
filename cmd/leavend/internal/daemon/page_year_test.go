package daemon

import (
	"context"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/store"
)

// TestYearOnThePage draws a year of one jar, from a real store, in a real
// browser, and prints how long that takes.
func TestYearOnThePage(t *testing.T) {
	if !campaign.Long() {
		t.Skip("set LEAVEND_LONG=1 to draw a year in a real browser; it takes a minute, and under the race detector longer than anybody waits")
	}
	conf := configtest.Parse(t, leavendtest.JarConfig(t.TempDir())) // its [web] is off, so that no port of the usual ones is taken
	conf.Web.On, conf.Web.Listen = true, "127.0.0.1:0"
	d := openPastOf(t, conf)
	defer d.Close()
	fillYear(t, d.Store)
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- d.page.Serve(ctx, d.pagePort.take()) }()
	cmd := exec.CommandContext(ctx, "node", "year.mjs")
	cmd.Dir = "../web/browser"
	cmd.Env = append(os.Environ(), "PAGE=http://"+d.pagePort.Addr().String())
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
	dir := filepath.Join("..", "..", "..", "..", "artefacts", "page") // a run that passes shows no log
	if err := errors.Join(os.MkdirAll(dir, 0o755), os.WriteFile(filepath.Join(dir, "year.txt"), out, 0o644)); err != nil {
		t.Error(err)
	}
	stop()
	if err := <-served; err != nil {
		t.Error(err)
	}
}

// fillYear stores a year of a jar that is fed twice a day, a reading every ten
// minutes. What the year is drawn from does not depend on how many there were.
func fillYear(t testing.TB, s *store.Store) {
	t.Helper()
	now := time.Now()
	var fed time.Time
	for i, at := 0, now.AddDate(-1, 0, 0); at.Before(now); i, at = i+1, at.Add(10*time.Minute) {
		if at.Sub(fed) >= 12*time.Hour {
			fed = at
			if _, err := s.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: at, KeptG: 30, WaterG: 90}); err != nil {
				t.Fatal(err)
			}
		}
		h := at.Sub(fed).Hours()
		height := 50 + 70*math.Sin(math.Pi*min(h/12, 1))
		for channel, v := range map[store.Channel]float64{store.Height: height, store.Distance: 215 - height, store.Warmth: 25 + math.Sin(h), store.MatOn: float64(i % 2)} {
			s.Readings.Add(store.Reading{Vessel: "bramble", Channel: channel, At: at, Value: v})
		}
		if i%1000 == 0 {
			if err := s.Readings.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := s.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
}
