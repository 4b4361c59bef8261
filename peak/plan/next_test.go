package plan

import (
	"math"
	"testing"
	"time"

	"leavend/peak/dough"
)

// stopped is the usual baker who goes by common practice for when the bulk ends.
func stopped() Problem {
	p := usual()
	p.Stop = dough.UsualStops().Rise
	p.Fridge = &dough.Cooling{MassKg: 0.94}
	return p
}

// Warm dough that goes into the cold is stopped early, for it goes on for hours: bulk
// at 27 °C to three quarters and then sixteen hours of fridge is over-proofed (common
// practice).
func TestWarmBulkIsStoppedBeforeTheCold(t *testing.T) {
	for _, tt := range []struct {
		c        float64
		cold     bool
		rise     float64
		low, top time.Duration
	}{
		{27, true, 0.30, 2 * time.Hour, 3*time.Hour + 30*time.Minute},
		{27, false, 0.75, 4 * time.Hour, 6 * time.Hour},
		{21, true, 0.75, 6 * time.Hour, 10 * time.Hour},
		{18, true, 1.00, 9 * time.Hour, 14 * time.Hour},
	} {
		p := stopped()
		p.DoughAt = []Warmth{{C: tt.c, Mat: tt.c > 21}}
		if tt.cold {
			p.Hours.Away = []Away{{Start: moment(4, 21, 0), End: moment(5, 6, 20)}}
		} else {
			for i := range p.Recipe.Stages {
				p.Recipe.Stages[i].FridgeShortest, p.Recipe.Stages[i].FridgeLongest = 0, 0
			}
			p.Ready = moment(4, 20, 0)
		}
		for _, one := range find(t, p) {
			proof, _ := spell(t, one, "proof")
			if proof.Fridge != tt.cold {
				continue
			}
			bulk, _ := spell(t, one, "bulk")
			took := bulk.Likely.Sub(bulk.From)
			if math.Abs(bulk.Rise-tt.rise) > 0.05 || took < tt.low || took > tt.top {
				t.Errorf("at %g °C, cold proof %v: bulk to %.0f %% in %v", tt.c, tt.cold, 100*bulk.Rise, took)
			}
			if tt.cold && !proof.Cold.After(proof.From) {
				t.Errorf("in the fridge from %v on it is cold through at %v", proof.From, proof.Cold)
			}
		}
	}
}

// Bulk at 27 °C until it has doubled and then sixteen hours of fridge is over-proofed:
// the dough goes on for hours before it is cold. The same dough ended at a third is sound,
// and so is dough at 20 °C that has doubled (common practice).
func TestDoubledWarmDoughIsTooFarForTheFridge(t *testing.T) {
	const h = time.Hour
	for _, tt := range []struct {
		c           float64
		stops       bool
		sound       bool
		whole, upTo float64
	}{
		{27, false, false, 1.5, 3},
		{27, true, true, 0.5, 1},
		{19.5, true, true, 1, 1.5},
	} {
		p := stopped()
		p.DoughAt = []Warmth{{C: tt.c, Mat: tt.c > 21}}
		p.Hours.Away = []Away{{Start: moment(4, 20, 0), End: moment(5, 6, 20)}}
		for i := range p.Recipe.Stages {
			if s := &p.Recipe.Stages[i]; s.Cold() {
				s.FridgeShortest, s.FridgeLongest = 15*h, 17*h
			}
		}
		if !tt.stops {
			p.Stop = nil
		}
		found := 0
		for _, one := range find(t, p) {
			w, _ := spell(t, one, "proof")
			if !w.Fridge {
				continue
			}
			found++
			if w.Whole < tt.whole || w.Whole > tt.upTo || tt.sound != (one.Score() >= 60) {
				t.Errorf("at %g °C, stopped early %v: it rises by %.0f %% in all and scores %d", tt.c, tt.stops, 100*w.Whole, one.Score())
			}
		}
		if tt.sound && found == 0 {
			t.Errorf("at %g °C no plan goes by the fridge", tt.c)
		}
	}
}

// A bulk that was measured for the fridge goes there, unless there is no other way.
func TestRunningBulkKeepsItsWay(t *testing.T) {
	p := stopped()
	p.Now = moment(4, 16, 0)
	cold := dough.ColdProof
	p.Running = &Running{Wait: "bulk", Began: moment(4, 14, 0), Warmth: Warmth{C: 26, Mat: true}, Next: &cold}
	if w, _ := spell(t, find(t, p)[0], "proof"); !w.Fridge {
		t.Error("it proofs in the room")
	}
	p.Ready = moment(4, 23, 0)
	p.Hours = Hours{Zone: zone}
	if w, _ := spell(t, find(t, p)[0], "proof"); w.Fridge {
		t.Error("there is no time for the fridge")
	}
}

// Rye never doubles: it is baked from its only rise, at 30 to 50 % by the warmth of its
// dough (common practice), and its recipe's time is for such a rise. Half rye is not mostly
// rye.
func TestRyeIsReadyAtItsOwnRise(t *testing.T) {
	for _, tt := range []struct {
		c, rye, rise float64
	}{{27, 1, 0.30}, {24, 1, 0.40}, {21, 0.6, 0.50}, {18, 1, 0.50}, {24, 0.5, 0}, {24, 0, 0}} {
		p := stopped()
		p.Recipe, p.Ready, p.DoughAt = recipe("rye tin"), moment(4, 20, 0), []Warmth{{C: tt.c, Mat: tt.c > 21}}
		p.Recipe.Flours = []Flour{{"whole rye", 500 * tt.rye}, {"wheat", 500 * (1 - tt.rye)}}
		proof, _ := spell(t, find(t, p)[0], "proof")
		if math.Abs(proof.Rise-tt.rise) > 1e-9 {
			t.Errorf("at %g °C with %g of rye it rises by %g, want %g", tt.c, tt.rye, proof.Rise, tt.rise)
		}
		if took := proof.Likely.Sub(proof.From); tt.c == 27 && (took-150*time.Minute).Abs() > Slot {
			t.Errorf("at the recipe's warmth it takes %v and not its time", took)
		}
	}
	p := stopped() // with a bulk and a proof after it, in the room or in the fridge
	p.Recipe.Flours = []Flour{{"rye", 500}}
	for _, one := range find(t, p) {
		if bulk, _ := spell(t, one, "bulk"); bulk.Rise > 0.5 {
			t.Errorf("rye rises by %g at %g °C before its proof", bulk.Rise, bulk.Warmth.C)
		}
	}
}
