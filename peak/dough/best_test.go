package dough

import (
	"math"
	"math/rand/v2"
	"testing"
)

// baker invents loaves. Where stops matter to him, a loaf loses stars by how far its bulk
// ended from the best rise, and every baker's stars wander.
func baker(r *rand.Rand, n int, matters bool) []Rated {
	const best, each = 0.56, 0.09 // a star for the first 9 points, three more for the next
	out := make([]Rated, n)
	for i := range out {
		c := 23 + 3*r.Float64()
		rise := min(max(0.6+0.13*r.NormFloat64(), 0.2), 1.2)
		stars := 4 + 0.8*r.NormFloat64()
		if matters {
			off := (rise - best) / each
			stars = 4.6 - off*off + 0.5*r.NormFloat64()
		}
		out[i] = Rated{Stars: int(min(max(math.Round(stars), 1), 5)), Rise: rise * UsualStops().Rise(c, RoomProof) / UsualStops().Rise(24, RoomProof), TempC: c}
	}
	return out
}

// TestBestOfInventedBakers: of bakers to whose loaves the end of the bulk means nothing,
// few are ever offered a target in their first twenty loaves; of those to whom it does,
// most are, and near the right rise. All bakers are invented.
func TestBestOfInventedBakers(t *testing.T) {
	const bakers = 200
	for _, matters := range []bool{false, true} {
		r := rand.New(rand.NewPCG(7, 11))
		ever, at10, at20, near := 0, 0, 0, 0
		for range bakers {
			loaves := baker(r, 20, matters)
			offered := false
			for n := leastRated; n <= len(loaves); n++ {
				b, ok := BestOf(loaves[:n], RoomProof, UsualStops())
				offered = offered || ok
				if ok && n == 10 {
					at10++
				}
				if ok && n == 20 {
					at20++
					at24 := b.Middle * UsualStops().Rise(24, RoomProof) / UsualStops().Rise(b.TempC, RoomProof)
					if math.Abs(at24-0.56) < 0.06 {
						near++
					}
				}
			}
			if offered {
				ever++
			}
		}
		t.Logf("matters %v: offered ever %.3f, after 10 %.3f, after 20 %.3f, of these near the truth %.3f", matters,
			float64(ever)/bakers, float64(at10)/bakers, float64(at20)/bakers, float64(near)/float64(max(at20, 1)))
		if !matters && ever > bakers/8 {
			t.Errorf("%d of %d bakers whose stars mean nothing were offered a target", ever, bakers)
		}
		if matters && (at20 < bakers*6/10 || near < at20*9/10) {
			t.Errorf("of %d bakers %d were offered a target after 20 loaves, %d near the truth", bakers, at20, near)
		}
	}
}

// TestBestOfByHand holds the share of chance to what is counted on paper: of five loaves,
// three can be chosen in ten ways.
func TestBestOfByHand(t *testing.T) {
	even := Stops{{DoughC: 20, ColdRise: 0.5, RoomRise: 0.5, RyeRise: 0.5}} // the temperature changes nothing
	loaf := func(stars int, rise float64) Rated { return Rated{Stars: stars, Rise: rise, TempC: 25} }
	for _, tt := range []struct {
		name   string
		loaves []Rated
		ok     bool
		best   Best
	}{
		{"four loaves", []Rated{loaf(5, 0.5), loaf(5, 0.51), loaf(5, 0.52), loaf(1, 0.9)}, false, Best{}},
		{"the best three are the closest three", []Rated{loaf(5, 0.52), loaf(4, 0.60), loaf(5, 0.55), loaf(2, 0.9), loaf(1, 0.3)}, true,
			Best{Rated: 5, Best: 3, TempC: 25, Low: 0.52, High: 0.60, Middle: 0.55, ByChance: 0.1}},
		{"another three lie closer", []Rated{loaf(5, 0.52), loaf(4, 0.60), loaf(5, 0.55), loaf(2, 0.61), loaf(1, 0.62)}, false, Best{}},
		{"all have the same stars", []Rated{loaf(4, 0.5), loaf(4, 0.52), loaf(4, 0.55), loaf(4, 0.9), loaf(4, 0.3)}, false, Best{}},
		{"the best lie far apart", []Rated{loaf(5, 0.4), loaf(5, 0.5), loaf(5, 0.7), loaf(2, 1.5), loaf(1, 0.1)}, false, Best{}},
		{"loaves without stars or rise do not count", []Rated{loaf(5, 0.52), loaf(4, 0.60), loaf(5, 0.55), loaf(0, 0.9), loaf(1, math.NaN())}, false, Best{}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := BestOf(tt.loaves, ColdProof, even)
			if ok != tt.ok || ok && math.Abs(got.ByChance-tt.best.ByChance)+math.Abs(got.Low-tt.best.Low)+math.Abs(got.High-tt.best.High)+math.Abs(got.Middle-tt.best.Middle) > 1e-9 ||
				ok && (got.Rated != tt.best.Rated || got.Best != tt.best.Best) {
				t.Errorf("got %+v, %v", got, ok)
			}
		})
	}
}

// A warm dough that stopped early and a cool one that stopped late are the same stop by the
// table.
func TestBestOfEvensOutTemperatures(t *testing.T) {
	table := UsualStops()
	at := func(stars int, c, of float64) Rated {
		return Rated{Stars: stars, Rise: of * table.Rise(c, ColdProof), TempC: c}
	}
	b, ok := BestOf([]Rated{at(5, 27, 1), at(5, 24, 1), at(4, 21, 1), at(2, 24, 1.6), at(2, 24, 0.6)}, ColdProof, table)
	if !ok || math.Abs(b.Middle-table.Rise(24, ColdProof)) > 1e-9 || b.TempC != 24 {
		t.Errorf("got %+v, %v", b, ok)
	}
}
