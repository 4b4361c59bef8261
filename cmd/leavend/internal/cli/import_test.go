package cli

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/control"
	"leavend/sensor"
)

// TestImportIsDrawn imports a recording as a vessel's past, into the middle of
// what it kept itself, and wants its curve: the rise, and no hand over the jar.
func TestImportIsDrawn(t *testing.T) {
	for name, tt := range map[string]struct {
		cut  string  // from the config
		want float64 // at the end of the recording: the ratio, or the rise in mm
	}{
		"measured":     {"", 1.5},
		"not measured": {"floor_mm = 215\n", 30},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			text := strings.Replace(leavendtest.JarConfig(dir), tt.cut, "", 1)
			began := time.Now().Add(-72 * time.Hour).Truncate(time.Second)
			live(t, text, began.Add(-time.Hour))
			live(t, text, began.Add(48*time.Hour))
			conf, file := filepath.Join(dir, "leavend.toml"), filepath.Join(dir, "past.csv")
			var rows strings.Builder
			rows.WriteString("time;distance_mm;temperature_c;note\r\n") // as a spreadsheet has it
			for i := range 6 * 60 {
				mm, note := 155-float64(i)/12, "" // 60 mm high on a floor at 215 mm, 30 mm more in six hours
				if i == 0 {
					note = "fed"
				}
				if i == 200 {
					mm = 40 // a hand
				}
				fmt.Fprintf(&rows, "%s;%s;25,5;%s\r\n", began.Add(time.Duration(i)*time.Minute).Format(time.RFC3339), strings.Replace(fmt.Sprintf("%.2f", mm), ".", ",", 1), note)
			}
			for path, text := range map[string]string{conf: text, file: rows.String()} {
				if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if _, errs, code := runLine(t, "import", "--config", conf, "--vessel", "Pilot", file); code != failure.Usage || !strings.Contains(errs, "there is no “Pilot”") {
				t.Errorf("into a vessel that is not configured: %d %s", code, errs)
			}
			if _, errs, code := runLine(t, "import", "--config", conf, "--vessel", "Bramble", file); code != failure.Done {
				t.Fatalf("import: %d %s", code, errs)
			}
			if _, errs, code := runLine(t, "import", "--config", conf, "--vessel", "Bramble", packed(t, file)); code == failure.Done || !strings.Contains(errs, store.ErrImported.Error()) {
				t.Errorf("the same, packed: %d %s", code, errs)
			}
			d := openedPast(t, text)
			defer d.Close()
			page, _ := backend.New(d.Monitor, nil, backend.Opts{})
			w, err := page.History.Window(t.Context(), "bramble", web.Span{From: began.Add(-time.Hour), To: began.Add(54 * time.Hour), Max: 2000})
			if err != nil {
				t.Fatal(err)
			}
			drawn := w.Ratio
			if tt.cut != "" {
				drawn = w.HeightMM
			}
			points, last, most := 0, 0.0, 0.0
			for i, v := range drawn {
				if at := w.At[i]; at.Before(began) || at.After(began.Add(6*time.Hour)) || math.IsNaN(v) {
					continue
				}
				points, last, most = points+1, v, max(most, v)
			}
			if points < 150 || math.Abs(last-tt.want) > 0.02*tt.want || most > 1.02*tt.want {
				t.Errorf("%d points, at the end %.3f, at most %.3f; want %.3f at the end and nothing above it", points, last, most, tt.want)
			}
		})
	}
}

// live keeps an hour of readings as the daemon does, from 155 mm.
func live(t *testing.T, text string, from time.Time) {
	t.Helper()
	d := openedPast(t, text)
	defer d.Close()
	if _, err := d.Store.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: from}); err != nil {
		t.Fatal(err)
	}
	v := monitor.NewVessel(d.Vessel("bramble").Conf, nil)
	for i := range 360 {
		s, _ := v.Distance(from.Add(time.Duration(i)*10*time.Second), 155-float64(i)/60, "")
		d.SaveSample(s)
	}
}

// openedPast is a daemon without network that watches one jar.
func openedPast(t testing.TB, text string) *daemon.Daemon {
	t.Helper()
	conf, err := config.Parse([]byte(text), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	return openedPastOf(t, conf)
}

// openedPastOf is openedPast with a config that was read already.
func openedPastOf(t testing.TB, conf *config.Config) *daemon.Daemon {
	t.Helper()
	d, err := daemon.New(t.Context(), conf, slog.New(slog.DiscardHandler), daemon.Parts{
		Mat: &control.Dry{}, Note: filepath.Join(t.TempDir(), "mat.json"),
		Simulated: func(config.Sensor) (sensor.Source, sensor.Source, error) { return nil, nil, nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// packed packs a file with gzip.
func packed(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file+".gz", b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file + ".gz"
}

// TestImportUnpacks imports a recording that is packed.
func TestImportUnpacks(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "past.csv")
	text := "time,distance_mm,temperature_c,note\n2026-01-02T08:00:00Z,155,25,fed\n2026-01-02T08:01:00Z,154,25,\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	out, errs, code := runLine(t, "import", "--store", filepath.Join(dir, "past.db"), "--vessel", "bramble", packed(t, file))
	if code != failure.Done || !strings.Contains(out, "2 rows") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
}
