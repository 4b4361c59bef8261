package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/replay"
)

// replayed runs the command line and returns what it printed.
func replayed(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = Execute(context.Background(), append([]string{"replay"}, args...), &out, &errs)
	return code, out.String(), errs.String()
}

// spoken is one event as the contract prints it.
type spoken struct {
	Event     string    `json:"event"`
	Time      time.Time `json:"time"`
	PeakTime  time.Time `json:"peak_time"`
	Low       time.Time `json:"low"`
	High      time.Time `json:"high"`
	RiseRatio *float64  `json:"rise_ratio"`
	RiseMM    *float64  `json:"rise_mm"`
	HeightMM  *float64  `json:"height_mm"`
	Source    string    `json:"source"`
}

func lines(t *testing.T, text string) (out []spoken) {
	t.Helper()
	dec := json.NewDecoder(strings.NewReader(text))
	for {
		var l spoken
		err := dec.Decode(&l)
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("output is not JSON lines: %v", err)
		}
		out = append(out, l)
	}
}

func TestReplayJSON(t *testing.T) {
	code, out, errs := replayed(t, "--json", leavendtest.Curves+"clean-00.csv.gz")
	if code != failure.Done || errs != "" {
		t.Fatalf("exit %d, stderr %q", code, errs)
	}
	var kinds []string
	var last time.Time
	peaks := 0
	for _, l := range lines(t, out) {
		if l.Time.Before(last) {
			t.Errorf("%s at %v is out of order", l.Event, l.Time)
		}
		if l.Event == "forecast" && !(l.Low.Before(l.High) && !l.PeakTime.Before(l.Low) && !l.High.Before(l.PeakTime)) {
			t.Errorf("forecast %v outside of %v to %v", l.PeakTime, l.Low, l.High)
		}
		if l.RiseRatio != nil || l.HeightMM != nil {
			t.Errorf("%s has a ratio or a height, though the floor is not known", l.Event)
		}
		if l.Event == "peak" {
			peaks++
			// truth.json: the top is 5.904 h after the start, 60.3 mm above it.
			if d := l.PeakTime.Sub(time.Date(2027, 1, 2, 13, 20, 4, 0, time.UTC)).Abs(); d > 45*time.Minute {
				t.Errorf("the stated top is %v off", d)
			}
			if l.RiseMM == nil || *l.RiseMM < 57 || *l.RiseMM > 63 {
				t.Errorf("rise %v, want about 60.3 mm", l.RiseMM)
			}
		}
		last = l.Time
		kinds = append(kinds, l.Event)
	}
	if peaks != 1 || kinds[0] != "fed" {
		t.Errorf("got %v, want fed first and one peak", kinds)
	}
}

// TestForecastCadence holds the contract: at least every ten minutes from the
// first forecast to the call.
func TestForecastCadence(t *testing.T) {
	_, out, _ := replayed(t, "--json", leavendtest.Curves+"clean-02.csv.gz")
	var last time.Time
	for _, l := range lines(t, out) {
		if l.Event != "forecast" && l.Event != "peak" {
			continue
		}
		if !last.IsZero() && l.Time.Sub(last) > 10*time.Minute+30*time.Second {
			t.Errorf("%v between two forecasts", l.Time.Sub(last))
		}
		if last = l.Time; l.Event == "peak" {
			return
		}
	}
}

// TestReplayCausal: a cut recording prints the same, as far as it goes.
func TestReplayCausal(t *testing.T) {
	_, whole, _ := replayed(t, "--json", leavendtest.Curves+"noisy-03.csv.gz")
	rows := leavendtest.Unpacked(t, leavendtest.Curves+"noisy-03.csv.gz")
	for _, n := range []int{500, 1500, 2600} {
		cut := filepath.Join(t.TempDir(), "cut.csv")
		if err := os.WriteFile(cut, []byte(strings.Join(rows[:n], "\n")+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		_, part, _ := replayed(t, "--json", cut)
		if !strings.HasPrefix(whole, part) {
			t.Errorf("cut after %d rows it prints something else", n)
		}
	}
}

func TestReplayFloor(t *testing.T) {
	// truth.json: the floor is 173.04 mm below the sensor and the top is 2.736
	// times the height at the feed.
	_, out, _ := replayed(t, "--json", "--floor", "173.04", leavendtest.Curves+"clean-00.csv.gz")
	for _, l := range lines(t, out) {
		if l.Event == "peak" {
			if l.RiseRatio == nil || *l.RiseRatio < 2.6 || *l.RiseRatio > 2.87 {
				t.Errorf("rise ratio %v, want about 2.74", l.RiseRatio)
			}
			return
		}
	}
	t.Error("no peak")
}

func TestReplayBowl(t *testing.T) {
	// truth.json: doubled 3.942 h after the feed at 07:25:49.
	_, out, _ := replayed(t, "--json", "--floor", "173.04", "--bowl", "--target", "2", leavendtest.Curves+"clean-00.csv.gz")
	want := time.Date(2027, 1, 2, 11, 22, 19, 0, time.UTC)
	for _, l := range lines(t, out) {
		switch l.Event {
		case "peak":
			t.Error("a bowl has no peak")
		case "target":
			if d := l.Time.Sub(want).Abs(); d > 12*time.Minute {
				t.Errorf("the target was called %v away", d)
			}
			return
		}
	}
	t.Error("the target was not called")
}

func TestReplayBadRows(t *testing.T) {
	rows := leavendtest.Unpacked(t, leavendtest.Curves+"clean-00.csv.gz")
	rows[10] = "2027-01-02T07:28:04Z,12x,26.8,"
	rows[20] = "yesterday,139,26.8,"
	rows[30] = "2027-01-02T07:33:04Z,139"
	name := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(name, []byte(strings.Join(rows, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := replayed(t, name)
	if code != failure.Done {
		t.Errorf("exit %d, want %d", code, failure.Done)
	}
	for _, want := range []string{"line 11: distance_mm: \"12x\"", "line 21: time: \"yesterday\"", "line 31: the row has 2 cells"} {
		if !strings.Contains(errs, want) {
			t.Errorf("stderr lacks %q:\n%s", want, errs)
		}
	}
	for _, want := range []string{"3 bad rows", "PEAK", "fed", "expected at"} {
		if !strings.Contains(out, want) {
			t.Errorf("the story lacks %q:\n%s", want, out)
		}
	}
}

func TestReplayRefuses(t *testing.T) {
	dir := t.TempDir()
	empty, other, broken := filepath.Join(dir, "empty.csv"), filepath.Join(dir, "other.csv"), filepath.Join(dir, "broken.csv.gz")
	os.WriteFile(empty, nil, 0o600)
	os.WriteFile(other, []byte("a,b\n1,2\n"), 0o600)
	os.WriteFile(broken, []byte{0x1f, 0x8b, 8, 0, 1, 2, 3}, 0o600)
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"an empty file", []string{empty}, failure.Failed, "no recording"},
		{"another CSV", []string{other}, failure.Failed, "no column"},
		{"a broken archive", []string{broken}, failure.Failed, "gzip"},
		{"a missing file", []string{filepath.Join(dir, "none.csv")}, failure.Failed, "no such file"},
		{"no file", nil, failure.Usage, "an argument is missing; usage: leavend replay FILE..."},
		{"a bowl without floor", []string{"--bowl", other}, failure.Usage, "--floor"},
		{"a target without bowl", []string{"--target", "2", other}, failure.Usage, "--bowl"},
		{"a target below one", []string{"--bowl", "--floor", "200", "--target", "0.5", other}, failure.Usage, "between 1 and 10"},
		{"a floor above the sensor", []string{"--floor=-3", other}, failure.Usage, "--floor"},
		{"a plot of two", []string{"--plot", "x.svg", other, empty}, failure.Usage, "one FILE"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			code, _, errs := replayed(t, tt.args...)
			if code != tt.code || !strings.Contains(errs, tt.want) {
				t.Errorf("exit %d, stderr %q; want exit %d and %q", code, errs, tt.code, tt.want)
			}
		})
	}
}

// TestReplayPlot wants a picture that is XML, says in words what it shows,
// and holds every mark.
func TestReplayPlot(t *testing.T) {
	rows := leavendtest.Unpacked(t, leavendtest.Curves+"clean-00.csv.gz")
	rows[0] += ",mat"
	for i := 1; i < len(rows); i++ {
		rows[i] += map[bool]string{true: ",on", false: ",off"}[i/200%3 == 1]
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "a <jar> & more.csv"), filepath.Join(dir, "curve.svg")
	if err := os.WriteFile(in, []byte(strings.Join(rows, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := replayed(t, "--plot", out, in); code != failure.Done {
		t.Fatalf("exit %d: %s", code, errs)
	}
	raw, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(bytes.NewReader(raw))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
	}
	for _, want := range []string{"<title", "<desc", "Top at", `class="curve"`, `class="funnel"`, `class="warm"`, `class="mat"`, `class="call"`, "half fallen", "prefers-color-scheme:dark", "a &lt;jar&gt; &amp; more.csv"} {
		if !bytes.Contains(raw, []byte(want)) {
			t.Errorf("the picture lacks %s", want)
		}
	}
	if bytes.Contains(raw, []byte("NaN")) || bytes.Contains(raw, []byte("Inf")) {
		t.Error("the picture holds a number that is none")
	}
}

// TestReplayPlotOfNothing draws a recording without readings.
func TestReplayPlotOfNothing(t *testing.T) {
	dir := t.TempDir()
	in, out := filepath.Join(dir, "none.csv"), filepath.Join(dir, "curve.svg")
	os.WriteFile(in, []byte("time,distance_mm,temperature_c,note\n2027-01-02T07:25:49Z,,,fed\n"), 0o600)
	if code, _, errs := replayed(t, "--plot", out, in); code != failure.Done {
		t.Fatalf("exit %d: %s", code, errs)
	}
	raw, _ := os.ReadFile(out)
	if !bytes.Contains(raw, []byte("no readings")) || bytes.Contains(raw, []byte("NaN")) {
		t.Errorf("got %s", raw)
	}
}

// BenchmarkReplayYear replays a year of one jar at 10 s, a feed a day, CSV
// reading included: 3.15 million rows.
func BenchmarkReplayYear(b *testing.B) {
	name := filepath.Join(b.TempDir(), "year.csv")
	writeYear(b, name)
	for b.Loop() {
		if code := Execute(context.Background(), []string{"replay", "--json", name}, io.Discard, io.Discard); code != failure.Done {
			b.Fatal(code)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(365*8640), "ns/row")
}

// writeYear repeats one recording's readings day after day.
func writeYear(b *testing.B, name string) {
	f, err := os.Open(leavendtest.Curves + "clean-01.csv.gz")
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	in, closer, err := replay.Unpack(f)
	if err != nil {
		b.Fatal(err)
	}
	defer closer()
	raw, err := io.ReadAll(in)
	if err != nil {
		b.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(string(raw)), "\n")[1:]
	cells := make([]string, len(rows))
	for i, r := range rows {
		cells[i] = r[strings.IndexByte(r, ','):]
		cells[i] = cells[i][:strings.LastIndexByte(cells[i], ',')+1]
	}
	out, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	defer out.Close()
	var w bytes.Buffer
	w.WriteString("time,distance_mm,temperature_c,note\n")
	at := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
	for day := range 365 {
		for i := range 8640 {
			now := at.Add(time.Duration(day*8640+i) * 10 * time.Second)
			note := ""
			if i == 0 {
				note = "fed"
			}
			fmt.Fprintf(&w, "%s%s%s\n", now.Format(time.RFC3339), cells[i*len(cells)/8640], note)
		}
		if _, err := w.WriteTo(out); err != nil {
			b.Fatal(err)
		}
	}
}
