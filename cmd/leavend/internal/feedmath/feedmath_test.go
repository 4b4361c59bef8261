package feedmath

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var near = cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 5e-4 })

// TestWorkedExamples checks the arithmetic against examples of the trade.
func TestWorkedExamples(t *testing.T) {
	tests := []struct {
		name                      string // with where the numbers come from
		mix                       Mix
		ratio                     string
		hydration, addedHydration float64
	}{
		{"113 g each, the maintenance feed of a flour miller's guide",
			Mix{Starter{113, 1}, 113, 113}, "1:1:1", 1, 1},
		{"1:5:5 (common practice)",
			Mix{Starter{20, 1}, 100, 100}, "1:5:5", 1, 1},
		// 90 % bread flour, 10 % whole rye, 65 % water, 15 % of the flour in a
		// levain at 125 %: a classic of bread textbooks, here with 2,000 g of
		// flour in all; from memory. The levain is 300 g flour + 375 g water.
		{"dough of a textbook: 65 % in all with a levain at 125 %",
			Mix{Starter{675, 1.25}, 1700, 925}, "1:2.5:1.4", 0.65, 925. / 1700},
		// 1-2-3: one part of starter at 100 %, two of water, three of flour
		// gives 2.5/3.5 = 71.4 % (common practice).
		{"1-2-3 dough (common practice)",
			Mix{Starter{100, 1}, 300, 200}, "1:3:2", 2.5 / 3.5, 2. / 3},
		{"stiff starter at 50 % into equal weights: 60 g of it are 40 flour and 20 water",
			Mix{Starter{60, 0.5}, 100, 100}, "1:1.7:1.7", 120. / 140, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ratio, _ := tt.mix.Ratio()
			got := []float64{}
			for _, f := range []func() (float64, bool){tt.mix.Hydration, tt.mix.AddedHydration} {
				v, ok := f()
				if !ok {
					t.Error("not ok")
				}
				got = append(got, v)
			}
			want := []float64{tt.hydration, tt.addedHydration}
			if diff := cmp.Diff(want, got, near); diff != "" || ratio.String() != tt.ratio {
				t.Errorf("ratio %s, want %s; hydration, added (-want +got): %s", ratio, tt.ratio, diff)
			}
		})
	}
}

func TestNothingToDivideBy(t *testing.T) {
	var m Mix
	for name, f := range map[string]func() (float64, bool){"hydration": m.Hydration, "added": m.AddedHydration} {
		if v, ok := f(); ok {
			t.Errorf("%s of nothing = %g, true", name, v)
		}
	}
	if r, ok := m.Ratio(); ok {
		t.Errorf("ratio of nothing = %v, true", r)
	}
}

// ExamplePlan is the question of the evening before: 170 g of ripe starter for
// tomorrow, 20 g left over to feed on from, fed 1:5:5.
func ExamplePlan() {
	steps, err := Plan(Need{Grams: 170, SpareG: 20, StuckG: 5, LostShare: 0.01,
		Have: Starter{Grams: 60, Hydration: 1}, Ratio: Ratio{1, 5, 5}})
	if err != nil {
		panic(err)
	}
	for _, s := range steps {
		fmt.Printf("keep %g g, add %g g flour and %g g water: %.1f g at the top\n", s.Kept.Grams, s.FlourG, s.WaterG, s.RipeG)
	}
	// Output:
	// keep 18 g, add 90 g flour and 90 g water: 191.0 g at the top
}

func TestPlan(t *testing.T) {
	base := Need{Grams: 170, Have: Starter{50, 1}, Ratio: Ratio{1, 5, 5}}
	tests := []struct {
		name   string
		change func(*Need)
		want   [][3]float64 // kept, flour, water of each feed
	}{
		// 170/11 = 15.45 (D), rounded up; flour and water follow it.
		{"no losses", func(n *Need) {}, [][3]float64{{16, 80, 80}}},
		// 126.3/21 = 6.014 (D), which no kitchen scale tells from 6.
		{"a hair above a whole gram", func(n *Need) { n.Grams, n.Ratio = 126.3, Ratio{1, 10, 10} }, [][3]float64{{6, 60, 60}}},
		// The jar must grow to 100 g first, and 100/3 rounds up to 34 g each.
		{"even parts", func(n *Need) { n.Grams, n.Ratio = 300, Ratio{1, 1, 1} }, [][3]float64{{34, 34, 34}, {100, 100, 100}}},
		{"jar holds just enough", func(n *Need) { n.Have.Grams = 16 }, [][3]float64{{16, 80, 80}}},
		{"too little for one feed", func(n *Need) { n.Have.Grams = 10 }, [][3]float64{{2, 10, 10}, {16, 80, 80}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := base
			tt.change(&n)
			steps, err := Plan(n)
			if err != nil {
				t.Fatal(err)
			}
			var got [][3]float64
			for _, s := range steps {
				got = append(got, [3]float64{s.Kept.Grams, s.FlourG, s.WaterG})
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Error("(-want +got):", diff)
			}
		})
	}
}

// TestPlanIsNeverShort runs many needs: what a plan says must be enough, must
// be there to keep, must be fed at its ratio, and must not be more than one gram of what
// is kept makes it.
func TestPlanIsNeverShort(t *testing.T) {
	for grams := 1.0; grams < 900; grams += 7 {
		for _, r := range []Ratio{{1, 1, 1}, {1, 5, 5}, {1, 10, 12}, {2, 3, 1.5}} {
			n := Need{Grams: grams, SpareG: 15, StuckG: UsualStuckG, LostShare: UsualLostShare, Have: Starter{40, 0.8}, Ratio: r}
			steps, err := Plan(n)
			if err != nil {
				t.Fatal(err)
			}
			have := n.Have.Grams
			for _, s := range steps {
				if s.Kept.Grams > have*(1+forgiven)+0.1 {
					t.Fatalf("%g g at %v: keep %g of %g", grams, r, s.Kept.Grams, have)
				}
				if unit := s.Kept.Grams / r.Starter; s.FlourG < unit*r.Flour-1e-9 || s.FlourG >= unit*r.Flour+1 {
					t.Fatalf("%g g at %v: %g g of flour to %g g of starter", grams, r, s.FlourG, s.Kept.Grams)
				}
				have = s.RipeG
			}
			if want := grams + 15; have < want-forgiven*(want+6) || have > want+3+r.Sum()/r.Starter {
				t.Fatalf("%g g at %v: %g g ripe", grams, r, have)
			}
		}
	}
}

func TestPlanRefuses(t *testing.T) {
	for want, n := range map[string]Need{
		"ratio":       {Grams: 1, Have: Starter{1, 1}},
		"in the jar":  {Grams: 1, Ratio: Ratio{1, 1, 1}},
		"grams is":    {Have: Starter{1, 1}, Ratio: Ratio{1, 1, 1}},
		"grams is N":  {Grams: math.NaN(), Have: Starter{1, 1}, Ratio: Ratio{1, 1, 1}},
		"lost share":  {Grams: 1, LostShare: 1, Have: Starter{1, 1}, Ratio: Ratio{1, 1, 1}},
		"hydration":   {Grams: 1, Have: Starter{1, -1}, Ratio: Ratio{1, 1, 1}},
		"too little":  {Grams: 90000, Have: Starter{1, 1}, Ratio: Ratio{1, .1, .1}},
		"ratio 0:1:1": {Grams: 1, Have: Starter{1, 1}, Ratio: Ratio{0, 1, 1}},
	} {
		if _, err := Plan(n); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

func TestSuggest(t *testing.T) {
	feed := func(kept, wheat, rye, water float64) Feed {
		return Feed{KeptG: kept, Flours: []Flour{{"wheat", wheat}, {"rye", rye}}, WaterG: water}
	}
	last := []Feed{{}, feed(20, 75, 25, 100), feed(20, 100, 0, 100), feed(5, 60, 0, 55), feed(20, 100, 0, 100), feed(25, 125, 0, 125), feed(500, 1, 1, 1)}
	got, ok := Suggest(last)
	want := feed(20, 75, 25, 100)
	if diff := cmp.Diff(want, got, near); diff != "" || !ok {
		t.Error(ok, "(-want +got):", diff)
	}
	if _, ok := Suggest([]Feed{{KeptG: 20}}); ok {
		t.Error("a suggestion out of nothing")
	}
}

var noon = time.Date(2027, 3, 10, 12, 0, 0, 0, time.UTC)

func daysAgo(d float64) time.Time { return noon.Add(-time.Duration(d * 24 * float64(time.Hour))) }

func TestCount(t *testing.T) {
	feeds := []Feed{
		{At: daysAgo(0.5), DiscardG: 80},
		{At: daysAgo(6), DiscardG: 100},
		{At: daysAgo(5), CleanJar: true, DiscardG: 50},
		{At: daysAgo(3)},
		{At: daysAgo(1), DiscardG: 40},
		{At: noon.Add(time.Hour), DiscardG: 999, CleanJar: true}, // not yet
	}
	tests := []struct {
		name  string
		moves []DiscardMove
		want  Counts
	}{
		{"nothing used", nil, Counts{true, 12 * time.Hour, true, 3, 270, 144 * time.Hour}},
		{"the oldest goes first", []DiscardMove{{daysAgo(2), Used, 120}}, Counts{true, 12 * time.Hour, true, 3, 150, 120 * time.Hour}},
		{"emptied in between", []DiscardMove{{daysAgo(4), Emptied, 0}}, Counts{true, 12 * time.Hour, true, 3, 120, 24 * time.Hour}},
		{"some put in by hand", []DiscardMove{{daysAgo(7), Kept, 30}}, Counts{true, 12 * time.Hour, true, 3, 300, 168 * time.Hour}},
		{"more used than was there", []DiscardMove{{daysAgo(0.1), Used, 500}}, Counts{true, 12 * time.Hour, true, 3, 0, 0}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			before := slices.Clone(feeds)
			if diff := cmp.Diff(tt.want, Count(noon, time.Time{}, feeds, tt.moves), near); diff != "" {
				t.Error("(-want +got):", diff)
			}
			if diff := cmp.Diff(before, feeds); diff != "" {
				t.Error("the feeds were changed:", diff)
			}
		})
	}
	// A new starter, two feeds ago: of the jar before only the discard is left.
	if diff := cmp.Diff(Counts{true, 12 * time.Hour, true, 1, 270, 144 * time.Hour}, Count(noon, daysAgo(1.1), feeds, nil), near); diff != "" {
		t.Error("of a new starter (-want +got):", diff)
	}
	if diff := cmp.Diff(Counts{false, 0, false, 0, 270, 144 * time.Hour}, Count(noon, daysAgo(0.1), feeds, nil), near); diff != "" {
		t.Error("of a new starter before its first feed (-want +got):", diff)
	}
	if got := Count(noon, time.Time{}, nil, nil); got != (Counts{}) {
		t.Errorf("of no feeds: %+v", got)
	}
}

func TestDue(t *testing.T) {
	day := 24 * time.Hour
	tests := []struct {
		name   string
		c      Counts
		fridge bool
		want   []string
	}{
		{"never fed", Counts{}, false, nil},
		{"fresh", Counts{Fed: true, SinceFeed: day / 2, SinceClean: 4}, false, nil},
		{"a day on the shelf", Counts{Fed: true, SinceFeed: day}, false, []string{FeedDue}},
		{"six days in the fridge", Counts{Fed: true, SinceFeed: 6 * day}, true, nil},
		{"a week in the fridge", Counts{Fed: true, SinceFeed: 7 * day}, true, []string{FridgeDue}},
		{"two weeks in the fridge", Counts{Fed: true, SinceFeed: 15 * day}, true, []string{FridgeLate}},
		{"five feeds in one jar", Counts{Fed: true, SinceClean: 5}, false, []string{CleanDue}},
		{"old discard", Counts{Fed: true, DiscardG: 10, DiscardSince: 8 * day}, false, []string{DiscardOld}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got []string
			for _, r := range Due(tt.c, tt.fridge, UsualRules()) {
				got = append(got, r.Kind)
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Error("(-want +got):", diff)
			}
		})
	}
	if got := Due(Counts{Fed: true, SinceFeed: 99 * day, SinceClean: 99, DiscardG: 1, DiscardSince: 99 * day}, false, Rules{}); got != nil {
		t.Errorf("with all rules off: %v", got)
	}
}

func TestSignsThatMeanTheBin(t *testing.T) {
	for _, word := range []string{"fuzz", "pink", "orange", "foul"} {
		found := false
		for _, s := range Signs() {
			found = found || strings.Contains(s.Name, word) && s.Throw
			if s.Source == "" {
				t.Errorf("%q names no source", s.Name)
			}
		}
		if !found {
			t.Errorf("%q does not say to throw it away", word)
		}
	}
}
