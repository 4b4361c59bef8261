package feedmath

import (
	"fmt"
	"math"
)

// Need is how much ripe starter a bake wants, and what it is made from.
type Need struct {
	Grams     float64 // ripe starter for the bake
	SpareG    float64 // to be left over, to feed on from
	StuckG    float64 // lost on jar and spoon
	LostShare float64 // lost as gas and damp until the top, of the whole weight
	Have      Starter // what stands in the jar now
	Ratio     Ratio   // how it is fed
}

// UsualStuckG and UsualLostShare are the losses where a baker gives none: a
// guess. The share is about what fermentation turns into gas: some 2 % of the
// flour is sugar by the top, and half of that weight leaves (ethanol
// fermentation gives off 88 g of CO2 for 180 g of glucose), with about as
// much drying.
const (
	UsualStuckG    = 5
	UsualLostShare = 0.01
)

// Step is one feed of a plan: keep so much, add flour and water.
type Step struct {
	Mix
	RipeG float64 // what there is of it at its peak, losses taken off
}

// maxSteps bounds a plan. Three feeds at 1:5:5 make 1,300 times as much.
const maxSteps = 5

// Plan says what to keep and add so that Need is there: one feed where the
// jar holds enough, more one after the other where it does not. Weights are
// rounded to whole grams so that the ratio holds and the sum is not short.
func Plan(n Need) ([]Step, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	var steps []Step
	want := n.Grams + n.SpareG
	for range maxSteps {
		step := n.step(want)
		steps = append([]Step{step}, steps...)
		if step.Kept.Grams <= n.Have.Grams {
			return steps, nil
		}
		want = step.Kept.Grams
	}
	return nil, fmt.Errorf("%g g of starter are too little to make %g g at %v in %d feeds", n.Have.Grams, n.Grams+n.SpareG, n.Ratio, maxSteps)
}

// step works out the one feed that gives want grams of ripe starter. What is kept is
// weighed in whole grams, so flour and water follow it: 7 g at 1:10:10 take 70 g each,
// though a little less were enough, for another ratio would peak at another hour.
func (n Need) step(want float64) Step {
	unit := (want + n.StuckG) / (1 - n.LostShare) / n.Ratio.Sum()
	kept := math.Ceil(unit * n.Ratio.Starter * (1 - forgiven))
	unit = kept / n.Ratio.Starter
	m := Mix{Starter{kept, n.Have.Hydration}, up(unit * n.Ratio.Flour), up(unit * n.Ratio.Water)}
	return Step{m, m.TotalG()*(1-n.LostShare) - n.StuckG}
}

// forgiven is by which share a feed may come out short before a gram more is kept: what is
// lost on jar and spoon is known less well.
const forgiven = 0.005

// up rounds to the next whole gram, forgiving the last bits of a float.
func up(v float64) float64 { return math.Ceil(v - 1e-9) }

func (n Need) check() error {
	if err := n.Ratio.Check(); err != nil {
		return err
	}
	for name, v := range map[string]float64{"grams": n.Grams, "spare": n.SpareG, "stuck": n.StuckG, "in the jar": n.Have.Grams} {
		if !(v >= 0 && v <= 1e5) {
			return fmt.Errorf("%s is %g g; it must be between 0 and 100,000", name, v)
		}
	}
	switch {
	case n.Grams == 0:
		return fmt.Errorf("grams is 0; say how much ripe starter the bake needs")
	case n.Have.Grams == 0:
		return fmt.Errorf("in the jar is 0 g; there is nothing to feed")
	case !(n.LostShare >= 0 && n.LostShare < 0.5):
		return fmt.Errorf("lost share is %g; it must be between 0 and 0.5", n.LostShare)
	case !(n.Have.Hydration >= 0 && n.Have.Hydration <= 5):
		return fmt.Errorf("hydration is %g; it must be between 0 and 5", n.Have.Hydration)
	}
	return nil
}
