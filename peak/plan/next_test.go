package plan

import (
	"testing"
	"time"

	"leavend/peak/dough"
)

// stopped is the usual baker who goes by common practice for when the bulk ends.
func stopped() Problem {
	p := usual()
	p.Stop = dough.UsualStops().Rise
	p.Cool = func(_ Stage, c float64) time.Duration {
		d, _ := dough.Cooling{MassKg: 0.94}.Until(c, 6)
		return d
	}
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
			if bulk.Rise != tt.rise || took < tt.low || took > tt.top {
				t.Errorf("at %g °C, cold proof %v: bulk to %.0f %% in %v", tt.c, tt.cold, 100*bulk.Rise, took)
			}
			if tt.cold && !proof.Cold.After(proof.From) {
				t.Errorf("in the fridge from %v on it is cold through at %v", proof.From, proof.Cold)
			}
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
