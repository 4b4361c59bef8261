package web

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// readPage reads the files that the document is made of.
func readPage(t *testing.T) (document []byte, scripts map[string][]byte) {
	t.Helper()
	scripts = map[string][]byte{}
	for _, name := range []string{"index.html", "begin.js", "words.js", "vessel.js"} {
		b, err := os.ReadFile(filepath.Join("page", name))
		if err != nil {
			t.Fatal(err)
		}
		scripts[name] = b
	}
	return scripts["index.html"], scripts
}

func testIndex(t *testing.T) *index {
	t.Helper()
	x, err := newIndex(readPage(t))
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestFrameSaysTheHour compares what stands in the document before any script
// ran with what each vessel is about to show: the hour in the kitchen's zone,
// and its day where that is next to this one.
func TestFrameSaysTheHour(t *testing.T) {
	x := testIndex(t)
	noon := time.Date(2026, 7, 4, 12, 0, 0, 0, time.UTC)
	later := noon.Add(5 * time.Hour)
	k := Kitchen{At: noon, Zone: "Europe/Paris"}
	top := func(at time.Time) *Top { return &Top{TopAt: at, Ratio: 2.25} }
	soon := func(at time.Time) *Forecast {
		return &Forecast{TopAt: at, LowAt: at.Add(-time.Hour), HighAt: at.Add(time.Hour)}
	}
	tests := []struct {
		name  string
		v     Vessel
		lang  string
		label string
		hour  string
		rest  string
	}{
		{"expected", Vessel{Kind: Jar, Stage: Rising, Forecast: soon(later)}, "de", "On top at about", "19:00", "likely between 18:00 and 20:00"},
		{"in the American way", Vessel{Kind: Bowl, Stage: Rising, Forecast: soon(later)}, "en-US,en;q=0.9", "Risen enough at about", "7:00\u00a0pm", "likely between 6:00\u00a0pm and 8:00\u00a0pm"},
		{"on top", Vessel{Kind: Jar, Stage: OnTop, Top: top(noon)}, "", "On top since", "14:00", "at 2.25× its height"},
		{"past it", Vessel{Kind: Jar, Stage: Falling, Top: top(noon), Forecast: soon(later)}, "", "Was on top at", "14:00", "at 2.25× its height"},
		{"tomorrow in the kitchen", Vessel{Kind: Jar, Stage: Rising, Forecast: soon(later.Add(6 * time.Hour))}, "", "On top at about", "tomorrow 01:00", "likely between 00:00 and 02:00"},
		{"yesterday", Vessel{Kind: Jar, Stage: Falling, Top: top(noon.Add(-15 * time.Hour))}, "", "Was on top at", "yesterday 23:00", "at 2.25× its height"},
		{"days ago", Vessel{Kind: Jar, Stage: Falling, Top: top(noon.AddDate(0, 0, -3))}, "", "Was on top at", "", "at 2.25× its height"},
		{"in the fridge", Vessel{Kind: Jar, FridgeSince: noon, Forecast: soon(later)}, "", "In the fridge since", "14:00", ""},
		{"nothing known", Vessel{Kind: Jar, Stage: Unfed}, "", "No time for the top yet", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			o := x.teller(k, hourLayout(tt.lang)).vessel(tt.v)
			got, want := []string{o.Label, o.Hour, o.Range}, []string{tt.label, tt.hour, tt.rest}
			if d := cmp.Diff(want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

// TestFramePressesNothingTwice leaves the button out while the last feed can
// still be taken back, as the script does.
func TestFramePressesNothingTwice(t *testing.T) {
	x := testIndex(t)
	now := time.Date(2026, 7, 4, 12, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name string
		v    Vessel
		want string
	}{
		{"never fed", Vessel{Kind: Jar}, "Fed"},
		{"fed long ago", Vessel{Kind: Bowl, Feed: &FeedMark{At: now.Add(-time.Hour), UndoUntil: now.Add(-time.Minute)}}, "Mixed"},
		{"fed just now", Vessel{Kind: Jar, Feed: &FeedMark{At: now, UndoUntil: now.Add(time.Minute)}}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := x.teller(Kitchen{At: now, Zone: "UTC"}, "15:04").vessel(tt.v).Press; got != tt.want {
				t.Errorf("the button says %q, want %q", got, tt.want)
			}
		})
	}
}

// TestNewIndexRefuses wants an error at the start where a word or an outline
// that the document needs is no longer found.
func TestNewIndexRefuses(t *testing.T) {
	for _, tt := range []struct{ name, file, old, new, want string }{
		{"a document that is no template", "index.html", "</html>", "{{", "index.html"},
		{"a word in another form", "words.js", "  between: (low, high) =>", "  between: function (low, high)", "does not say between"},
		{"an outline in another form", "vessel.js", "const BULGE =", "const bulges =", "vessel.js"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, scripts := readPage(t)
			spoilt := strings.Replace(string(scripts[tt.file]), tt.old, tt.new, 1)
			if spoilt == string(scripts[tt.file]) {
				t.Fatalf("%s has no %q", tt.file, tt.old)
			}
			scripts[tt.file] = []byte(spoilt)
			if _, err := newIndex(scripts["index.html"], scripts); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one of %q", err, tt.want)
			}
		})
	}
}

// TestFrameBearsAnything draws what the house may say of a vessel that is not
// set up fully or that nothing is known of.
func TestFrameBearsAnything(t *testing.T) {
	x := testIndex(t)
	nan := Real(math.NaN())
	for _, v := range []Vessel{
		{},
		{Kind: "vat", Stage: "odd", Height: &Measure{Value: nan}, Ratio: &Measure{Value: nan}, InsideMM: nan, FedHeightMM: nan},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: nan}, InsideMM: 150},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: 90}, Ratio: &Measure{Value: 3}, InsideMM: nan, FedHeightMM: 40},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: 900}, Ratio: &Measure{Value: 30}, InsideMM: 150, FedHeightMM: 40, Forecast: &Forecast{Ratio: nan}, Note: "– é"},
	} {
		for _, zone := range []string{"", "Nowhere/At/All", "UTC"} {
			o := x.teller(Kitchen{Zone: zone}, "15:04").vessel(v)
			if all := o.Picture.Edge + o.Picture.Band + o.Picture.Hope; strings.Contains(all, "NaN") || strings.Contains(all, "Inf") {
				t.Errorf("%+v is drawn as %+v", v, o.Picture)
			}
		}
	}
}
