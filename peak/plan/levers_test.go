package plan

import (
	"math"
	"testing"
	"time"
)

// sums are the flour and the water of a whole dough, those in a starter of a
// hydration with them.
func sums(r Recipe, hydration float64) (flour, water float64) {
	f := r.StarterG / (1 + hydration)
	return r.FlourG() + f, r.WaterG + r.StarterG - f
}

// The baker's formula holds whatever the share of starter: flour, water and salt of
// the whole dough stay (baker's percentages are common practice).
func TestWithStarterKeepsTheDough(t *testing.T) {
	for _, r := range Recipes() {
		flour, water := sums(r, 1)
		for _, share := range []float64{0.05, 0.1, 0.2, 0.3} {
			got := r.WithStarter(share)
			if f, w := sums(got, 1); math.Abs(f-flour) > 3 || math.Abs(w-water) > 3 || got.SaltG != r.SaltG {
				t.Errorf("%s at %g %%: %g g of flour and %g g of water, want %g and %g", r.Name, 100*share, f, w, flour, water)
			}
			if math.Abs(got.Share()-share) > 0.01 {
				t.Errorf("%s: a share of %g, want %g", r.Name, got.Share(), share)
			}
		}
	}
	pan := recipe("pan loaf")
	bulk := func(r Recipe) time.Duration { b, _ := r.bulk(); return b.Time }
	if slow, fast := bulk(pan.WithStarter(0.05)), bulk(pan.WithStarter(0.3)); slow < 8*time.Hour || slow > 14*time.Hour || fast < 4*time.Hour || fast >= bulk(pan) {
		t.Errorf("bulk of %v with 5 %% of starter and of %v with 30 %%", slow, fast)
	}
	if bulk(pan) != 6*time.Hour+30*time.Minute {
		t.Error("the recipe itself was changed")
	}
}

// A stiff starter of 50 % brings more flour and less water; 60 g of it are 40 g of
// flour and 20 g of water.
func TestForStarter(t *testing.T) {
	pan := recipe("pan loaf")
	flour, water := sums(pan, 1)
	for _, h := range []float64{0.5, 0.6, 1, 1.25} {
		if f, w := sums(pan.ForStarter(h), h); math.Abs(f-flour) > 2 || math.Abs(w-water) > 2 {
			t.Errorf("with a starter of %g %%: %g g of flour and %g g of water, want %g and %g", 100*h, f, w, flour, water)
		}
	}
}

func TestTimes(t *testing.T) {
	two := recipe("pan loaf").Times(2)
	if two.FlourG() != 1000 || two.WaterG != 660 || two.SaltG != 20 || two.StarterG != 200 {
		t.Errorf("two loaves take %+v", two)
	}
}

// From five in the afternoon to eight in the morning there is no way with a fifth of
// starter; with another share, or the bulk in the fridge, there is (common practice).
func TestLeversArePulledWhereNothingElseServes(t *testing.T) {
	p := stopped()
	p.Fixed, p.Standing = false, nil
	p.Now, p.Ready = moment(4, 6, 40), moment(5, 8, 0)
	p.Hours.Away = []Away{{From: 8 * 60, To: 17 * 60}}
	best := find(t, p)[0]
	if best.Score() < 60 {
		t.Errorf("a score of %d: %+v", best.Score(), best.Steps)
	}
	// A loaf in six hours, from a jar that is ripe in half an hour.
	p = stopped()
	p.Fixed, p.Now, p.Ready, p.KeepG = false, moment(5, 9, 0), moment(5, 15, 20), 20
	fed := p.Now.Add(-4 * time.Hour)
	p.Standing = &Standing{FedAt: fed, Ratio: Ratio{1, 1}, RipeG: 250, Ready: func(float64) time.Duration { return 4*time.Hour + 30*time.Minute }}
	best = find(t, p)[0]
	if best.Uses == nil || best.Score() < 60 || best.Loaf.After(p.Ready) {
		t.Errorf("six hours: score %d, loaf %v, share %g, %+v", best.Score(), best.Loaf, best.Share, best.Steps)
	}
	if best.Share != 0 && best.Dough.StarterG+p.KeepG > p.Standing.RipeG {
		t.Errorf("it takes %g g of %g", best.Dough.StarterG, p.Standing.RipeG)
	}
}
