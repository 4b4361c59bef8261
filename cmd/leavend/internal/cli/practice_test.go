package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak/plan"
	"leavend/sensor/sim/simtest"
)

// request is a question as a baker asks it, with the practice that a good answer
// follows. All starters and kitchens are invented; the practice is common, with no
// source.
type request struct {
	name, practice string
	conf           string
	args           []string
	check          func(s planning.Sheet) error
}

// doing returns the steps of a plan that have a name.
func doing(p planning.Plan, name string) (out []planning.Step) {
	for _, s := range p.Steps {
		if s.Name == name {
			out = append(out, s)
		}
	}
	return out
}

// says checks that the first step of a name says something.
func says(s planning.Sheet, name string, wants ...string) error {
	if len(s.Plans) == 0 {
		return fmt.Errorf("there is no plan: %v", s.NoPlan)
	}
	steps := doing(s.Plans[0], name)
	if len(steps) == 0 {
		return fmt.Errorf("the first plan has no %s", name)
	}
	for _, want := range wants {
		if !strings.Contains(steps[0].Text, want) {
			return fmt.Errorf("%q does not say %q", steps[0].Text, want)
		}
	}
	return nil
}

// stiffPast is a starter that is fed 1:2:1, half as much water as flour.
func stiffPast(t *testing.T, path string, last time.Time) {
	t.Helper()
	s, _, err := store.Open(context.Background(), path, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for i := range 5 {
		if _, err := s.Journal.AddFeed(context.Background(), store.Feed{Vessel: "bramble", At: last.AddDate(0, 0, -i), KeptG: 40, WaterG: 40, Flours: []store.Flour{{Kind: "wheat", Grams: 80}}}); err != nil {
			t.Fatal(err)
		}
	}
}

// TestPractice asks fifteen things that bakers ask, and holds the answers to the
// practice that they follow and, word for word, to the files beside the test.
func TestPractice(t *testing.T) {
	t.Parallel()
	thursday := time.Date(2026, 11, 26, 17, 4, 0, 0, time.UTC) // 18:04 in Oslo
	const evening = "2026-11-26 18:04"
	past := func(ago time.Duration, topped bool) string {
		path := filepath.Join(t.TempDir(), "leavend.db")
		leavendtest.BramblesPast(t, path, thursday.Add(-ago), 8, topped)
		return path
	}
	stiff := filepath.Join(t.TempDir(), "stiff.db")
	stiffPast(t, stiff, thursday.Add(-20*time.Hour))
	mat := leavendtest.PlanConfig + leavendtest.PlanMat
	ask := func(ready string, more ...string) []string {
		return append([]string{ready, "--from", evening}, more...)
	}
	requests := []request{
		{"working week", "Who works by day feeds in the morning or the evening, mixes after work, and lets the shaped dough wait in the fridge overnight.",
			mat + "[[plan.away]]\nfrom = \"08:00\"\nto = \"17:00\"\ndays = [\"thu\", \"fri\"]\n", ask("Saturday 07:30", "--store", past(10*time.Hour, true)),
			func(s planning.Sheet) error {
				for _, step := range s.Plans[0].Steps {
					if at := step.At.In(s.Ask.Ready.Location()); step.Kind == "do" && at.Weekday() == time.Friday && at.Hour() >= 8 && at.Hour() < 17 {
						return fmt.Errorf("%s at %v, at work", step.Name, at)
					}
				}
				return says(s, "shape", "in the fridge")
			}},
		{"same day", "A starter that was fed in the evening is ripe in the morning, and is used then for bread on the same day.",
			mat, []string{"Friday 19:00", "--from", "2026-11-27 06:40", "--store", past(-3*time.Hour, false)},
			func(s planning.Sheet) error { return says(s, plan.TopName, "use 100 g", "keep 20 g") }},
		{"three weeks in the fridge", "After three weeks without a feed a starter is fed twice, a third time if it has not doubled, before it raises bread.",
			mat, ask("Sunday 12:00", "--fridge", "--store", past(23*24*time.Hour, true)),
			func(s planning.Sheet) error {
				if n := len(doing(s.Plans[0], plan.RefreshFeed)); n != 2 {
					return fmt.Errorf("%d waking feeds, want 2", n)
				}
				return says(s, plan.RefreshFeed, "1:1:1", "doubled")
			}},
		{"rye", "A rye loaf rises once, warm, until its floured top cracks, is baked long and through, and rests half a day before it is cut.",
			mat, ask("Saturday 20:00", "--recipe", "rye tin", "--cooled"),
			func(s planning.Sheet) error {
				bake := doing(s.Plans[0], "bake")
				if len(bake) != 1 || s.Plans[0].Loaf.Sub(bake[0].Until) < 12*time.Hour {
					return fmt.Errorf("out at %v, cut at %v", bake, s.Plans[0].Loaf)
				}
				if err := says(s, "bake", "96 °C to 98 °C inside"); err != nil {
					return err
				}
				return says(s, "mix", "rye", "27 °C", "fine cracks")
			}},
		{"stiff", "A stiff starter stays stiff when it is fed, and the dough gets less flour and more water for it.",
			mat, ask("Saturday 07:30", "--store", stiff),
			func(s planning.Sheet) error {
				var flour, water float64
				if _, err := fmt.Sscanf(s.Plans[0].Ratio, "1:%g:%g", &flour, &water); err != nil || water > 0.6*flour {
					return fmt.Errorf("fed %s", s.Plans[0].Ratio)
				}
				return says(s, "mix", "483 g white wheat flour", "347 g water")
			}},
		{"two loaves", "For two loaves all weights double, the starter's with them; times stay.",
			mat, ask("Saturday 07:30", "--loaves", "2", "--store", past(10*time.Hour, true)),
			func(s planning.Sheet) error {
				if err := says(s, "shape", "Divide into 2 and shape"); err != nil {
					return err
				}
				return says(s, "mix", "200 g ripe starter", "1000 g white wheat flour", "20 g salt")
			}},
		{"overnight on the mat", "Little starter carries a dough through the night, on a mat that keeps a cool kitchen from slowing it.",
			mat + "[plan]\nroom_c = 17\n[[plan.away]]\nfrom = \"08:00\"\nto = \"20:30\"\ndays = [\"fri\"]\n",
			ask("Saturday 14:00", "--recipe", "overnight loaf", "--store", past(10*time.Hour, true)),
			func(s planning.Sheet) error {
				if err := says(s, "mix", "45 g ripe starter", "on the mat"); err != nil {
					return err
				}
				mixed, shaped := doing(s.Plans[0], "mix")[0].At, doing(s.Plans[0], "shape")[0].At
				if mixed.Day() != 27 || shaped.Day() != 28 {
					return fmt.Errorf("mixed at %v and shaped at %v, not overnight", mixed, shaped)
				}
				return nil
			}},
		{"cold proof", "Warm dough that goes into the fridge is shaped early, at half its rise or less, for it goes on for hours while it cools.",
			mat + "[plan]\ncoolest_c = 26\n", ask("Saturday 07:30"),
			func(s planning.Sheet) error {
				if err := says(s, "shape", "in the fridge", "until it is cold"); err != nil {
					return err
				}
				return says(s, "mix", "has risen by 3")
			}},
		{"wake-up", "Bread by seven wants an oven that is on at six; if the baker sleeps then, the plan must say so.",
			mat, []string{"Saturday 07:00", "--from", "2026-11-27 17:30", "--store", past(-14*time.Hour, true)},
			func(s planning.Sheet) error {
				if s.NoPlan == nil || !strings.Contains(s.NoPlan.Text, "up at 06:00") {
					return fmt.Errorf("it says %v", s.NoPlan)
				}
				return nil
			}},
		{"six hours", "A loaf in six hours wants a ripe starter and much of it; without one the discard bakes, and bread comes tomorrow.",
			mat, ask("2026-11-27 00:10"),
			func(s planning.Sheet) error {
				if s.NoPlan == nil || !strings.Contains(s.NoPlan.Text, "discard bakes flatbread") || s.Earliest.IsZero() {
					return fmt.Errorf("it says %v, earliest %v", s.NoPlan, s.Earliest)
				}
				return nil
			}},
		{"the night the clocks go forward", "Dough knows no clock: what rises through that night gets its hours, and work keeps to the clock on the wall.",
			mat, []string{"2027-03-28 09:00", "--from", "2027-03-27 08:00"},
			func(s planning.Sheet) error { return says(s, "bake", "Oven on") }},
		{"rising now", "A jar that rises is used when it is ripe, and not fed again first.",
			mat, ask("Friday 18:00", "--store", past(7*time.Hour, false)),
			func(s planning.Sheet) error {
				if len(doing(s.Plans[0], plan.FeedName)) > 0 {
					return fmt.Errorf("it feeds a rising jar")
				}
				return says(s, plan.TopName, "is ripe")
			}},
		{"20 g left", "Twenty grams make a loaf's starter in one lean feed, with as much left over.",
			mat, ask("Saturday 07:30", "--have", "20", "--store", past(10*time.Hour, true)),
			func(s planning.Sheet) error {
				var keep int
				feed := doing(s.Plans[0], plan.FeedName)
				if len(feed) == 0 {
					return fmt.Errorf("there is no feed")
				}
				if _, err := fmt.Sscanf(feed[0].Text[strings.Index(feed[0].Text, "keep "):], "keep %d", &keep); err != nil || keep > 20 {
					return fmt.Errorf("%q", feed[0].Text)
				}
				return nil
			}},
		{"30 °C", "In a hot kitchen cold water begins the dough at 26 °C, and the bulk ends at a third of its rise before the cold.",
			leavendtest.PlanConfig + "[plan]\nroom_c = 30\n", ask("Saturday 07:30"),
			func(s planning.Sheet) error {
				for _, one := range s.Plans {
					mixed, warm := doing(one, "mix")[0].Text, 0.0
					if _, err := fmt.Sscanf(mixed[strings.Index(mixed, "water at "):], "water at %g °C", &warm); err != nil || warm > 26 {
						return fmt.Errorf("%q", mixed)
					}
				}
				return says(s, "mix", "makes a dough of 26 °C", "has risen by 30")
			}},
		{"16 °C", "In a cold kitchen all takes its time, and dough may double before it is shaped.",
			leavendtest.PlanConfig + "[plan]\nroom_c = 16\n", ask("Sunday 12:00"),
			func(s planning.Sheet) error { return says(s, "mix", "has risen by 100") }},
	}
	if len(requests) != 15 {
		t.Errorf("%d requests, want 15", len(requests))
	}
	for _, r := range requests {
		t.Run(r.name, func(t *testing.T) {
			simtest.NotUnderRace(t)
			out, errs, _ := planned(t, r.conf, append(r.args, "--json")...)
			var sheet planning.Sheet
			if err := json.Unmarshal([]byte(out), &sheet); err != nil {
				t.Fatalf("%v: %s%s", err, out, errs)
			}
			if len(sheet.Plans) == 0 && sheet.NoPlan == nil {
				t.Fatal("neither a plan nor a reason")
			}
			if err := r.check(sheet); err != nil {
				t.Errorf("%s: %v", r.practice, err)
			}
			text, _, _ := planned(t, r.conf, r.args...)
			got := "Practice: " + r.practice + "\n\n" + text
			golden.Compare(t, filepath.Join("testdata", "practice", strings.ReplaceAll(r.name, " ", "-")+".txt"), got)
		})
	}
}
