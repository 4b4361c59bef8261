package web

import (
	"math"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web/page"
)

func testIndex(t *testing.T) *index {
	t.Helper()
	p, err := page.New()
	if err != nil {
		t.Fatal(err)
	}
	x, err := newIndex(p.Document, p.Begin)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestSays compares what is said of a vessel with the states that it can be
// in: the hour in the kitchen's zone, its day where that is next to this one,
// and an estimate no finer than its interval.
func TestSays(t *testing.T) {
	noon := time.Date(2026, 7, 4, 12, 0, 0, 0, time.UTC)
	later := noon.Add(5*time.Hour + 4*time.Minute)
	peak := func(at time.Time) *Top { return &Top{TopAt: at, Ratio: 2.25} }
	soon := func(at time.Time) *Forecast {
		return &Forecast{TopAt: at, LowAt: at.Add(-time.Hour), HighAt: at.Add(time.Hour)}
	}
	sure := func(at time.Time) *Forecast {
		return &Forecast{TopAt: at, LowAt: at.Add(-6 * time.Minute), HighAt: at.Add(6 * time.Minute)}
	}
	tests := []struct {
		name string
		v    Vessel
		lang string
		face Face
		want []string // stage, label, hour, range, do
	}{
		{"not fed", Vessel{Kind: Jar, Stage: Unfed}, "", FaceWaiting, []string{"Waiting for a feed", "Not fed yet", "", "Feed it, then press “I fed it”.", ""}},
		{"no dough", Vessel{Kind: Bowl, Stage: Unfed}, "", FaceWaiting, []string{"Waiting for dough", "No dough yet", "", "Put the dough in, then press “I mixed the dough”.", ""}},
		{"just fed", Vessel{Kind: Jar, Stage: Settling}, "", FaceWaiting, []string{"Just fed", "Too early to tell", "", "An estimate comes once it starts to rise.", ""}},
		{"a note says it", Vessel{Kind: Jar, Stage: Rising, Note: "why"}, "", FaceRising, []string{"Rising", "Too early to tell", "", "", ""}},
		{"expected, widely", Vessel{Kind: Jar, Stage: Rising, Forecast: soon(later)}, "de", FaceRising, []string{"Geht auf", "Höchststand gegen", "19:00", "zwischen 18:00 und 20:00", ""}},
		{"in the American way", Vessel{Kind: Bowl, Stage: Rising, Forecast: soon(later)}, "en-US,en;q=0.9", FaceRising, []string{"Rising", "Ready at about", "7:00\u00a0pm", "between 6:00 pm and 8:00 pm", ""}},
		{"nearly", Vessel{Kind: Jar, Stage: Rising, Forecast: sure(noon.Add(21 * time.Minute))}, "", FaceNearly, []string{"Nearly at its peak", "Peak at about", "14:21", "between 14:15 and 14:27", ""}},
		{"ready", Vessel{Kind: Jar, Stage: OnTop, Top: peak(noon), BestUntil: noon.Add(94 * time.Minute)}, "", FaceReady, []string{"Ready", "", "Ready\u00a0now", "Best until about 15:30", "Use it now, or feed it."}},
		{"dough ready", Vessel{Kind: Bowl, Stage: OnTarget, Top: peak(noon)}, "", FaceReady, []string{"Ready to shape", "", "Ready\u00a0now", "", "Shape it now, or put it in the fridge."}},
		{"dough going over", Vessel{Kind: Bowl, Stage: Over, Top: peak(noon)}, "", FaceOver, []string{"Going over", "Was ready", "14:00", "at 2.25×", "It is going over. Shape it now, or chill it."}},
		{"dough past its best", Vessel{Kind: Bowl, Stage: Past, Top: peak(noon)}, "", FacePast, []string{"Past its best", "Was ready", "14:00", "at 2.25×", "It has risen too far. Shape it gently and bake it soon, or use it for flatbread."}},
		{"past its peak", Vessel{Kind: Jar, Stage: Falling, Top: peak(noon), Forecast: soon(later)}, "", FacePast, []string{"Past its peak", "Peaked", "14:00", "at 2.25×", "Feed it, or put it in the fridge."}},
		{"tomorrow in the kitchen", Vessel{Kind: Jar, Stage: Rising, Forecast: soon(later.Add(6 * time.Hour))}, "", FaceRising, []string{"Rising", "Peak at about", "tomorrow\u00a001:00", "between 00:00 and 02:00", ""}},
		{"days ago", Vessel{Kind: Jar, Stage: Falling, Top: peak(noon.AddDate(0, 0, -3))}, "", FacePast, []string{"Past its peak", "Peaked", "Wed\u00a01\u00a0Jul\u00a014:00", "at 2.25×", "Feed it, or put it in the fridge."}},
		{"used", Vessel{Kind: Jar, Stage: OnTop, Top: peak(noon), Used: &Used{How: "used", At: noon.Add(time.Hour)}}, "", FacePast, []string{"Used", "Used at", "15:00", "Peaked at 14:00, at 2.25×", "Feed what is left, or put it in the fridge."}},
		{"shaped", Vessel{Kind: Bowl, Stage: Unfed, Used: &Used{How: "shaped", At: noon}}, "", FaceWaiting, []string{"Waiting for dough", "Shaped at", "14:00", "Put the dough in, then press “I mixed the dough”.", ""}},
		{"in the fridge", Vessel{Kind: Jar, Stage: Asleep, FridgeSince: noon, Forecast: soon(later)}, "", FaceCold, []string{"In the fridge", "In the fridge since", "14:00", "It will be watched again once you take it out.", ""}},
		{"nothing clear", Vessel{Kind: Jar, Stage: Unsure, Note: "why"}, "", FaceUnsure, []string{"No clear reading", "Too early to tell", "", "", ""}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			request := httptest.NewRequest("GET", "/", nil)
			request.Header.Set("Accept-Language", tt.lang)
			reader := readerOf(request)
			reader.Zone, reader.Now = zoneOf("Europe/Paris"), noon
			s := tt.v.skeleton(reader, noon)
			if d := cmp.Diff(tt.want, []string{s.Stage, s.Label, s.Hour, s.Range, s.Do}); d != "" {
				t.Error(d)
			}
			if s.Face != tt.face {
				t.Errorf("face %q, want %q", s.Face, tt.face)
			}
		})
	}
}

// TestDocumentPresses says what the button does in each state: what is to be
// done next. It is left out while the last press can still be taken back.
func TestDocumentPresses(t *testing.T) {
	now := time.Date(2026, 7, 4, 12, 0, 0, 0, time.UTC)
	later, before := now.Add(time.Minute), now.Add(-time.Minute)
	for _, tt := range []struct {
		name  string
		v     Vessel
		press Press
		want  string
	}{
		{"never fed", Vessel{Kind: Jar, Stage: Unfed}, PressFeed, "I fed it"},
		{"no dough", Vessel{Kind: Bowl, Stage: Unfed}, PressFeed, "I mixed the dough"},
		{"just fed", Vessel{Kind: Jar, Stage: Settling, Feed: &FeedMark{At: now, UndoUntil: later}}, "", ""},
		{"rising", Vessel{Kind: Jar, Stage: Rising, Feed: &FeedMark{At: before, UndoUntil: before}}, "", "I fed it"},
		{"at its peak", Vessel{Kind: Jar, Stage: OnTop}, PressUse, "I used it"},
		{"dough ready", Vessel{Kind: Bowl, Stage: OnTarget}, PressUse, "I shaped it"},
		{"dough past its best", Vessel{Kind: Bowl, Stage: Past}, PressUse, "I shaped it"},
		{"falling", Vessel{Kind: Jar, Stage: Falling}, PressFeed, "I fed it"},
		{"used just now", Vessel{Kind: Jar, Stage: OnTop, Used: &Used{At: now, UndoUntil: later}}, PressFeed, ""},
		{"used", Vessel{Kind: Jar, Stage: OnTop, Used: &Used{At: before, UndoUntil: before}}, PressFeed, "I fed it"},
		{"in the fridge", Vessel{Kind: Jar, Stage: Asleep, FridgeSince: before}, PressOut, "I took it out of the fridge"},
		{"nothing clear", Vessel{Kind: Jar, Stage: Unsure}, "", "I fed it"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.v.skeleton(text.Reader{}, now); got.Press != tt.press || got.Button != tt.want {
				t.Errorf("the button does %q and says %q, want %q and %q", got.Press, got.Button, tt.press, tt.want)
			}
		})
	}
}

// TestReaderOf takes the language that the visitor chose before that of the
// browser, and nothing that does not exist.
func TestReaderOf(t *testing.T) {
	for _, tt := range []struct{ name, cookie, accept, want string }{
		{"of the browser", "", "de", "de"}, {"chosen", "en", "de", "en"}, {"chosen and unknown", "tlh", "de", "de"}, {"nothing", "", "", "en"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := httptest.NewRequest("GET", "/", nil)
			r.Header.Set("Accept-Language", tt.accept)
			if tt.cookie != "" {
				r.Header.Set("Cookie", languageCookie+"="+tt.cookie)
			}
			if got := readerOf(r).Language; got != tt.want {
				t.Errorf("%q, want %q", got, tt.want)
			}
		})
	}
}

// TestNewIndexRefuses wants an error at the start where the document is no
// template.
func TestNewIndexRefuses(t *testing.T) {
	b, err := os.ReadFile("page/index.html")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := newIndex([]byte(strings.Replace(string(b), "</html>", "{{", 1)), nil); err == nil || !strings.Contains(err.Error(), "index.html") {
		t.Errorf("error %v, want one of index.html", err)
	}
}

// TestDocumentBearsAnything draws what the house may say of a vessel that is
// not set up fully or that nothing is known of.
func TestDocumentBearsAnything(t *testing.T) {
	x := testIndex(t)
	nan := Real(math.NaN())
	for _, v := range []Vessel{
		{},
		{Kind: "vat", Stage: "odd", Height: &Measure{Value: nan}, Ratio: &Measure{Value: nan}, InsideMM: nan, FedHeightMM: nan},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: nan}, InsideMM: 150},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: 90}, Ratio: &Measure{Value: 3}, InsideMM: nan, FedHeightMM: 40},
		{Kind: Jar, Stage: Rising, Height: &Measure{Value: 900}, Ratio: &Measure{Value: 30}, InsideMM: 150, FedHeightMM: 40, Forecast: &Forecast{Ratio: nan}, Note: "– é"},
		{Kind: Bowl, Stage: OnTop}, {Kind: Bowl, Stage: OnTarget, Top: &Top{Ratio: nan}},
	} {
		for _, zone := range []string{"", "Nowhere/At/All", "UTC"} {
			data, err := x.fill(text.Reader{}, &Snapshot{Zone: zone, Vessels: []Vessel{v}})
			if err != nil {
				t.Fatal(err)
			}
			d := data.Vessels[0].Drawing
			if d.Level < d.Brim-14 || d.Level > d.Floor {
				t.Errorf("%+v is drawn as %+v", v, d)
			}
			var b strings.Builder
			if err := x.t.Execute(&b, data); err != nil || strings.Contains(b.String(), "stage.") {
				t.Errorf("%+v: %v, or a key without a sentence", v, err)
			}
		}
	}
}
