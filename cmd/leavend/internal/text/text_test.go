package text

import (
	"encoding/json"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// places are the values that a sentence takes, with how each is written.
func places(s sentence) []string {
	found := map[string]bool{}
	for _, form := range s.forms {
		for _, p := range form {
			if p.name != "" {
				found[p.name+":"+p.style] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(found))
}

// TestLanguagesAgree wants the same sentences with the same values in every
// language.
func TestLanguagesAgree(t *testing.T) {
	if len(Languages()) < 2 {
		t.Fatalf("languages %q, want two at least", Languages())
	}
	base := of(Fallback).sentences
	for _, code := range Languages()[1:] {
		other := of(code).sentences
		if d := cmp.Diff(slices.Sorted(maps.Keys(base)), slices.Sorted(maps.Keys(other))); d != "" {
			t.Errorf("%s has other keys (-%s +%s):\n%s", code, Fallback, code, d)
		}
		for key, s := range other {
			if d := cmp.Diff(places(base[key]), places(s)); d != "" {
				t.Errorf("%s in %s takes other values:\n%s", key, code, d)
			}
		}
	}
}

// TestPluralForms wants each language to have the forms that its numbers ask
// for. What they are, the CLDR says, which golang.org/x/text carries.
func TestPluralForms(t *testing.T) {
	for _, code := range Languages() {
		c := of(code)
		for key, s := range c.sentences {
			if s.count == "" {
				continue
			}
			for n := range 1000 {
				if got := s.form(c.tag, Say(key, Count(s.count, n))); len(got) == 0 {
					t.Errorf("%s in %s says nothing of %d", key, code, n)
				}
			}
		}
	}
}

var (
	literal = regexp.MustCompile("['\"`]([a-z][a-z_]*(?:\\.[a-z0-9_]+)*\\.?)(?:['\"`]|\\$\\{)")
	asked   = regexp.MustCompile(`(?:\bt\(|\bhas\(|\bSay\(|text\.Say\()['"]([a-z_]+(?:\.[a-z0-9_]+)*)['"]`)
)

// TestEveryKeyIsUsed reads the sources of the application and of the page: no
// sentence is left over, and none is asked for that does not exist.
func TestEveryKeyIsUsed(t *testing.T) {
	used := map[string]bool{"locale": true}
	var prefixes []string
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && slices.Contains([]string{"node_modules", "vendor", "browser", "testdata"}, d.Name()) {
			return filepath.SkipDir
		}
		if strings.HasSuffix(path, "_test.go") || filepath.Ext(path) != ".go" && filepath.Ext(path) != ".js" {
			return nil
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, m := range literal.FindAllStringSubmatch(string(b), -1) {
			if strings.HasSuffix(m[1], ".") {
				prefixes = append(prefixes, m[1])
			}
			used[m[1]] = true
		}
		for _, m := range asked.FindAllStringSubmatch(string(b), -1) {
			if _, ok := of(Fallback).sentences[m[1]]; !ok {
				t.Errorf("%s asks for %q, which does not exist", path, m[1])
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for key := range of(Fallback).sentences {
		if !used[key] && !used[strings.TrimSuffix(key, "_do")] && !slices.ContainsFunc(prefixes, func(p string) bool { return strings.HasPrefix(key, p) }) {
			t.Errorf("%s is in the catalogue and asked for nowhere", key)
		}
	}
}

var saturday = time.Date(2026, 11, 28, 14, 20, 0, 0, time.UTC)

func TestReaders(t *testing.T) {
	zone := time.FixedZone("CET", 3600)
	english := Reader{Now: saturday}
	german := Reader{Language: "de", Zone: zone, Now: saturday}
	american := Reader{Hours12: true, Fahrenheit: true, Inches: true, Now: saturday}
	baking := Reader{Ounces: true}
	peaked := func(at time.Time) Message { return Say("now.peaked", Time("at", at), Ratio("ratio", 2.126)) }
	tests := []struct {
		name string
		m    Message
		r    Reader
		want string
	}{
		{name: "today", m: peaked(saturday), r: english, want: "Peaked at 14:20, at 2.13×"},
		{name: "in a zone", m: peaked(saturday), r: german, want: "Höchststand um 15:20, 2,13×"},
		{name: "twelve hours", m: peaked(saturday), r: american, want: "Peaked at 2:20 pm, at 2.13×"},
		{name: "yesterday", m: peaked(saturday.Add(-20 * time.Hour)), r: english, want: "Peaked yesterday at 18:20, at 2.13×"},
		{name: "within a week", m: peaked(saturday.AddDate(0, 0, 3)), r: english, want: "Peaked on Tue at 14:20, at 2.13×"},
		{name: "long ago", m: peaked(saturday.AddDate(0, 0, -9)), r: english, want: "Peaked on Thu 19 Nov at 14:20, at 2.13×"},
		{name: "a date in German", m: Say("bake.photo_of", Time("day", saturday)), r: german, want: "Foto des Brots vom Sa, 28. Nov."},
		{name: "a setpoint", m: Say("mat.set_to", Temp("to", 25)), r: english, want: "Set to 25.0 °C."},
		{name: "in Fahrenheit", m: Say("mat.set_to", Temp("to", 25)), r: american, want: "Set to 77.0 °F."},
		{name: "a weight", m: Say("discard.holds", Weight("grams", 310)), r: american, want: "310 g in the discard jar."},
		{name: "salt in ounces", m: Say("discard.holds", Weight("grams", 10)), r: baking, want: "0.35 oz in the discard jar."},
		{name: "one of a kind", m: Say("time.days", Count("n", 1)), want: "1 day"},
		{name: "more of a kind", m: Say("time.days", Count("n", 12345)), want: "12,345 days"},
		{name: "how long ago", m: Say("now.ago", Time("at", saturday.Add(-95*time.Minute))), r: english, want: "about 2 h ago"},
		{name: "in no time", m: Say("now.in", Time("at", saturday)), r: english, want: "any minute now"},
		{name: "not known", m: Say("now.at_ratio", Ratio("ratio", 0/zero)), want: "at –"},
		{name: "a list", m: Say("banner.stale", List("names", []Message{Say("screen.now"), Say("screen.curve"), Say("screen.plan")}), Duration("age", time.Hour)), want: "No reading from Now, Curve and Bake; the last came 60 min ago."},
		{name: "points", m: Say("check.mat.cautions", List("all", []Message{Say("caution.smoke"), Say("caution.practice")})), r: english, want: "Before you let leavend switch a heat mat:\n- Have a working smoke alarm in the room.\n- Local electrical codes and licensed practice come before anything\n  written here."},
		{name: "an unknown language", m: Say("common.save"), r: Reader{Language: "xx"}, want: "Save"},
		{name: "nothing", m: Message{}, want: ""},
		{name: "a disk", m: Say("check.disk.room", Name("dir", "/data"), Size("free", 11_200_000_000), Size("need", 5_300_000)), r: german, want: "/data hat 11 GB frei; die Messwerte brauchen etwa 5,3 MB."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.m.In(tt.r); got != tt.want {
				t.Errorf("%q, want %q", got, tt.want)
			}
			b, err := json.Marshal(tt.m)
			if err != nil {
				t.Fatal(err)
			}
			var back Message
			if err := json.Unmarshal(b, &back); err != nil {
				t.Fatal(err)
			}
			if got := back.In(tt.r); got != tt.want {
				t.Errorf("by way of %s: %q, want %q", b, got, tt.want)
			}
		})
	}
}

// TestAges rounds an age as a person does. times.js rounds in the same way.
func TestAges(t *testing.T) {
	for _, tt := range []struct {
		age     time.Duration
		english string
		german  string
	}{
		{-time.Minute, "just now", "gerade eben"},
		{59 * time.Second, "just now", "gerade eben"},
		{time.Minute, "1 min ago", "vor 1 min"},
		{37*time.Minute + 40*time.Second, "38 min ago", "vor 38 min"},
		{90 * time.Minute, "90 min ago", "vor 90 min"},
		{91 * time.Minute, "about 2 h ago", "vor etwa 2 h"},
		{16*time.Hour + 46*time.Minute, "about 17 h ago", "vor etwa 17 h"},
		{35*time.Hour + 59*time.Minute, "about 36 h ago", "vor etwa 36 h"},
		{36 * time.Hour, "2 days ago", "vor 2 Tagen"},
		{7*24*time.Hour + 11*time.Hour, "7 days ago", "vor 7 Tagen"},
		{1234 * 24 * time.Hour, "1,234 days ago", "vor 1.234 Tagen"},
	} {
		t.Run(tt.age.String(), func(t *testing.T) {
			for language, want := range map[string]string{"en": tt.english, "de": tt.german} {
				r := Reader{Language: language, Now: saturday}
				if got := Say("now.ago", Time("at", saturday.Add(-tt.age))).In(r); got != want {
					t.Errorf("%s: %q, want %q", language, got, want)
				}
				if got := r.number("ago", tt.age.Seconds()); got != want {
					t.Errorf("%s, as a number: %q, want %q", language, got, want)
				}
			}
		})
	}
}

var zero float64 // 0/0 of a constant does not compile

func TestMatch(t *testing.T) {
	for _, tt := range []struct{ accept, want string }{
		{"de-AT,de;q=0.9,en;q=0.8", "de"}, {"en-US,en;q=0.9", "en"}, {"fr", "en"}, {"", "en"}, {";;;", "en"},
	} {
		if got := Match(tt.accept); got != tt.want {
			t.Errorf("%q: %s, want %s", tt.accept, got, tt.want)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	for _, tt := range []struct{ name, file, want string }{
		{"a number", "[a]\nb = 3", "neither a sentence nor a table"},
		{"no TOML", "a = ", "language en"},
		{"a form that does not exist", `a = { other = "{n:count}", several = "x" }`, "no plural form"},
		{"forms without a count", `a = { one = "x", other = "{n}" }`, "counts nothing"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := read("en", []byte(tt.file))
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one of %q", err, tt.want)
			}
		})
	}
}

// TestPage hands the page what it may say and nothing else.
func TestPage(t *testing.T) {
	b, rest, err := Page("de", []string{"push", "time.month"}, []string{"recipe", "plan.risk"})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Common map[string]string
		Push   map[string]any
		Plan   map[string]any
		Recipe map[string]any
		Time   map[string]any
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(rest), `{"plan":{"risk":{`) || !strings.Contains(string(rest), `"recipe":{`) || got.Recipe != nil || got.Plan["risk"] != nil || got.Plan["title"] == nil {
		t.Errorf("apart stands %s, and with the others %v and %v", rest, got.Recipe, got.Plan)
	}
	if got.Common["save"] != "Speichern" || got.Push != nil || got.Time["month"] != nil {
		t.Errorf("common.save %q, push %v, time.month %v", got.Common["save"], got.Push, got.Time["month"])
	}
	if days, ok := got.Time["days"].(map[string]any); !ok || days["one"] == nil {
		t.Errorf("time.days %v, want its forms", got.Time["days"])
	}
}
